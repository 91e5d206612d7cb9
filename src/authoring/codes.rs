//! The codes of all problems, with what `--explain` says of them. Codes are stable: one is never used for something else.

use crate::section::Template;

/// Code, title, explanation.
pub const CODES: &[(&str, &str, &str)] = &[
    ("S001", "The file is too long", "At most a mebibyte of text is read."),
    (
        "S002",
        "A key or a value is not known",
        "Keys are listed in prompts/README.md and by `stepbell schema`. A near one is proposed where there is one.",
    ),
    (
        "S003",
        "A key is missing",
        "Each section needs id, title, trade, board, edition, source, finish, a [reading] and a [clock]; each step an id and a title.",
    ),
    ("S004", "No steps", "A section without steps can't be rehearsed."),
    (
        "S005",
        "A name is used twice",
        "Steps, loops, phases and callouts share one set of names, since rules and `after` speak of all of them.",
    ),
    (
        "S006",
        "A name is not known",
        "`after`, `directly_after`, `phase`, `of`, `steps` and the operands of rules must be the `id` of something in the file. A loop's or a phase's stands for each of its steps.",
    ),
    ("S007", "A choice asks for more than it offers", "`at_least` counts steps of `of`, loops unrolled."),
    (
        "S008",
        "Steps wait for each other",
        "The names are shown in the order in which each waits for the one before it. Take one `after` away.",
    ),
    (
        "S009",
        "A callout that can't be heard as it is written",
        "The recogniser hears English words: write numbers as words, and leave signs away. Accents are taken off: é is heard as e.",
    ),
    ("S010", "A number of minutes is out of range", "A limit is 0.1 to 600 minutes, a step's plan 0 to 600."),
    (
        "S011",
        "A warning that can't be given",
        "`warning_minutes_left` says how many minutes are left, and must be less than `minutes`. It is stored, not derived: published pairs follow no rounding rule.",
    ),
    ("S012", "The reading is read too often or never", "Proctors read twice; 1 to 5 are possible."),
    (
        "S013",
        "The plan is longer than the limit",
        "The minutes of the steps that are not optional add up to more than the limit. The section can be used, but not finished as planned.",
    ),
    (
        "S014",
        "A callout with a word that the recogniser doesn't know",
        "The recogniser has no pronunciation for a word of it. Add a callout in common words.",
    ),
    (
        "S015",
        "A value of the wrong type",
        "Texts stand in quotation marks, numbers and true or false without, lists in square brackets.",
    ),
    (
        "S016",
        "A placeholder that nothing fills",
        "{item} works in the steps of a loop, {name} where there is a [[parameter]] of that name.",
    ),
    ("S017", "A parameter with nothing to draw", "Give `one_of` at least one value."),
    ("S018", "A name that can't be used", "`any` stands for every callout in rules; an empty name stands for nothing."),
    ("S019", "A loop with no turns", "Give `over` its items and `steps` the steps that are repeated for each."),
    ("S020", "A step in two loops", "Loops can't be nested or overlap. Write the turns of one of them out."),
    ("S021", "Brackets nested too deep", "A section file needs two levels of brackets."),
    ("S022", "This is not TOML", "The place shown is where reading stopped; the mistake can be a little before it."),
    ("S023", "Too many steps", "At most 256 steps, loops unrolled."),
    ("S024", "Nothing to read", "The proctor's instructions are missing."),
    (
        "S025",
        "A condition that can never hold",
        "`when` is written `parameter=value`, with a value from that parameter's `one_of`.",
    ),
    ("S026", "Two clocks", "A section with phases has its minutes in the phases."),
    ("S027", "A phase without start words", "The clock of a phase starts when its start words end."),
    ("S028", "A warning without words", "Write what the proctor says when the warning is due."),
    (
        "S029",
        "Several steps directly before one",
        "Only one step can come directly before another. Inside a loop a name means the step of the same turn.",
    ),
    ("S030", "A step without a phase", "In a section with phases each step belongs to one."),
    ("S031", "A step without callouts", "It can never be heard, so it would be reported as not called in every run."),
    ("S032", "A step in two choices", "Which choice it counts for would be unclear."),
    (
        "S033",
        "A rule with the wrong number of operands",
        "existence, absence, exactly, init and end speak of one callout; the other templates of two, `first` and `then`. `check --explain` and a template's name say what it asks.",
    ),
    ("S034", "A time out of range", "`at_least_seconds` is 0 to 36000."),
    ("S035", "A callout that is too long", "Nobody calls out more than a dozen words at once."),
    ("S036", "A pass mark above 100", "It is a percentage of the points."),
    (
        "S037",
        "The edition is no date",
        "Versions differ in order and minutes, so a file carries the date of its bulletin: YYYY-MM-DD, a day of the calendar.",
    ),
    ("S038", "Two steps directly after one", "Only one step can come directly after another."),
    (
        "S039",
        "Words that mean something else",
        "The finish signal must differ from every callout, and both from the commands that hold the clock, take a callout back, tell the time or stop everything. Words with two meanings would be heard as one of them only.",
    ),
    (
        "S040",
        "A cue in a timed phase",
        "Cued parts are commonly untimed, since nobody knows how long the proctor takes.",
    ),
    (
        "S041",
        "Rules that contradict each other",
        "No run that the order allows keeps all of them. The set shown is a smallest one: without any one of them the others can be kept.",
    ),
    (
        "S042",
        "A word whose sounds are wrong",
        "A [[word]] names one word and its sounds in the phones of CMUdict, without stress: word = \"gua\", sounds = \"G W AA\". Give one for a word of a callout that is said otherwise than it is spelt.",
    ),
    (
        "S043",
        "A critical step that may be left out",
        "`critical` says that leaving a step out can fail the section. One that is `optional`, or one of a choice, may be left out: nobody is told so of it.",
    ),
    (
        "S050",
        "Too many rules",
        "At most 200 rules can be followed side by side. A rule may speak of a loop's step, which stands for all its turns, or of `any`.",
    ),
    (
        "S051",
        "A safety pair that protects nothing",
        "A [[safety]] pair names in `first` what protects and in `then` what is safe only behind it; the two differ, and share no step.",
    ),
    (
        "S052",
        "A safety pair without a consequence",
        "The recap says who is hurt and what to drill, in the file's words.",
    ),
    (
        "S053",
        "A safety pair against the order",
        "The steps' `after` puts what is to be protected first in every run, so the pair could never be kept.",
    ),
    (
        "S054",
        "Runs that can't be explained in time",
        "What the callouts of a run stand for is found exactly, within a third of a second. Made-up runs of this section took longer. That happens where many steps share callouts, have no order between them and are not alike: steps in any order with callouts of their own, and turns of a loop, are no trouble.",
    ),
    (
        "S070",
        "A character that can't be seen",
        "Control characters can change what a terminal shows, and bidirectional ones what a text seems to say. They are written out wherever they are shown.",
    ),
    (
        "S071",
        "This is not an exam file",
        "An exam has id, title, board, source and a [[section]] with its `file` for each section.",
    ),
    ("S072", "A wait that is too long or no number", "`minutes_before` is 0 to 60."),
    (
        "S073",
        "Start words that are never spoken",
        "The `begin` of [reading] starts the first phase; each later phase has its own.",
    ),
];

/// Name, title and explanation of a problem's code, or of a rule's template, in any case of letters.
pub fn explain(code: &str) -> Option<(&'static str, &'static str, &'static str)> {
    let problem = CODES.iter().find(|(c, ..)| c.eq_ignore_ascii_case(code)).copied();
    let template = || Template::ALL.into_iter().find(|t| t.name().eq_ignore_ascii_case(code));
    problem.or_else(|| template().map(|t| (t.name(), "a template of rules", t.sentence())))
}
