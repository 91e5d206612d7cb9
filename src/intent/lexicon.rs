//! Words and turns of phrase, and what each is a sign of. Forms of a word that differ in their ending only are listed once.

/// What a word or a turn of phrase is a sign of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Sign {
    /// Holds a sentence together, and says nothing of itself.
    Filler,
    /// Something spoken of before.
    That,
    /// The same, or nothing: "how long did it take".
    It,
    Not,
    HowLong,
    Time,
    Took,
    When,
    Longest,
    Shortest,
    Plan,
    Over,
    Under,
    Left,
    InTime,
    Limit,
    Total,
    Miss,
    Before,
    After,
    Following,
    First,
    Last,
    Order,
    Between,
    Call,
    HowOften,
    HowMany,
    Step,
    Hygiene,
    Critical,
    Fail,
    Finding,
    Wrong,
    Good,
    HowDid,
    Points,
    Drop,
    Pause,
    LastRun,
    Best,
    Compare,
    Ready,
    Practise,
    Need,
    About,
    Caution,
    Source,
    Explain,
    Next,
    Read,
    Repeat,
    Slower,
    Again,
    Enough,
    Help,
    Finish,
    Should,
    Come,
    Ran,
    Start,
    /// It asks for yes or no.
    Whether,
    /// What nothing here knows of.
    Beyond,
}

use Sign::*;

/// By sign: turns of phrase, parted by bars. The longest that fits counts; "_" stands for up to two small words.
pub(super) const LEXICON: &[(Sign, &str)] = &[
    (
        Filler,
        "leave|lie|lies|lay|the most|most|close|sit|how does|how do|how can|how would|at the end|what time|like this|like that|like it|reach|reached|achieve|reaching|let|most of all|end up|ended up|rule|break|broke|rather|already|instead|such|part|overall|its|their|enough|manage|managed|busy|through|anywhere|somewhere|since|amount|kind|sort|lot|shall|may|might|must|apply|applying|applied|put|stay|stayed|keep|kept|sat|item|again|lose|lost|lose|use|used|item|would like|i would like|being|once|ago|by any chance|perchance|new|together|another|other|others|both|along|down|per|across|among|there any|at all|please tell|right|well|now|find|found|see|saw|happen|happened|back|around|before i forget|somehow|personally|honestly|finally|afterward|course|in general|generally|basically|simply|exact|precise|precisely|completely|lately|specific|specifically|also|the|where|far|a|an|of|to|my|me|mine|i|you|we|us|in|on|for|at|and|so|please|can|could|would|will|tell|say to me|know|just|okay|well|um|uh|er|hey|do|did|does|have|had|has|was|were|is|are|be|been|am|there|with|by|from|as|any|anything|something|some|what|which|who|how|one|ones|really|actually|exactly|run|session|exam|section|rehearsal|today|give|show|let|want|get|got|go|went|gone|going|your|up|out|list|but|if|whether|if i|ever|also|wonder|remind|thing|stuff|than|or|all|much|many|more|no|yes|then|now|here|this|these|those|us|each|every|particular|part|made|make|him|them|her|they|he|she|because|when i was|while|during|within|about how|roughly|approximately|actual|own|according|into|think|sure|quick question|question|thanks|thank|hello|hi|alright|right so|anyway|bit|little|quite|very|too|still|yet|only|even|else|thought|wanted|supposedly|possibly|maybe|perhaps|sorry|excuse",
    ),
    (That, "that|that step|that one|this step|this one|the same|them"),
    (It, "it"),
    (Not, "no|not|never|without|nothing|none"),
    (
        HowLong,
        "how long|how much time|how many minutes|how many seconds|how much of my time|the length of|the duration of|duration|length",
    ),
    (Time, "time|minute|second|clock"),
    (
        Took,
        "last|busy with|stretch|working on|work on|cost me|cost in|eat up|ate|go into|went into|going into|use up|used up|take|took|taken|last for|spend|spent|devote|eat",
    ),
    (
        When,
        "what time was|what time|at what moment|what moment|how many minutes in was|which moment|how far along|at which point|which point|minutes in|far in|how far into|clock time|how many minutes in|how long in|how many minutes into it|when|at what time|what time did|at which minute|at what minute|what minute|which minute|how far in|how late|how early|at what point|what point|how soon|where on the clock|on what minute",
    ),
    (
        Longest,
        "needed most time|longest for|so much time|too much time|took so long|most seconds|longer than anything|longer than the others|longest of all|used up the most|used most|needed longest|needed the most|longest|the most|hold _ up|held _ up|hold me up|held me up|ate up|most of my minutes|most minutes|slow me down|slowed me down|so long|slowest|most time|most of my time|most of the time|most minutes|biggest|lose _ time|lost _ time|lost the most|waste _ time|slowest step|dragged|drag on|time sink|lose time|lost time|waste time|wasted time|where did the time go|where did my time go|time go",
    ),
    (
        Shortest,
        "least minutes|soonest|shorter than the others|quickest of all|shortest of all|fewest seconds|least amount of time|fewest|quickly|least of all|shortest|quickest|fastest|least time|briefest|least|fewest minutes|soonest done|smallest",
    ),
    (
        Plan,
        "is there for|there for|i plan|plan for|reckoned|plan|schedule|target|budget|intend|estimate|by plan|allot|allotted|as planned|set aside|goal",
    ),
    (
        Over,
        "more than planned|more than plan|over target|over schedule|lost time against|lose time against|behind plan|behind schedule|surpass|more than it should|overshoot|overshot|stretch|stretched|drag|slowly|exceed|too late with|behind plan|over budget|slower|over time on|over|beyond|exceed|too long|longer than|too slow|slower than|behind|overrun|overran|run over|ran over|more time than|above|too much time|past|longer|slow|run long|ran long|off pace|go long|went long",
    ),
    (
        Under,
        "save time|saved time|gain time|gained time|make up time|made up time|too hasty|hasty|hastily|sped|speed|fewer|less|ahead of plan|ahead of schedule|ahead of time|ahead of target|ahead of the plan|hurry through|sped through|quick with|quick|quickly|under|faster than|too short|too quick|quicker than|rush|ahead|too fast|less than|shorter than|below|less time than|too little time|hurry|hurried|skimp|cut short|faster|shorter",
    ),
    (
        Left,
        "unused|to go|over at the end|time over|in hand|kept in reserve|reserve|buffer|early|time left|left over|to spare|spare|remain|remaining|was left|were left|have left|had left|left on the clock|left at the end|leftover|left",
    ),
    (
        InTime,
        "make the time limit|i late|late was i|was i late|by how much was i late|time suffice|enough time|time was enough|time enough|too slow for the limit|keep to time|kept to time|kept the time|keep the time|how late|how close|how early|punctual|before time|before the end|close to the limit|close was i to the limit|within the time limit|inside the time limit|in time|on time|over time|out of time|inside the limit|within the limit|beat the clock|make the limit|make it|over the limit|before the limit|under the limit|before time was up|past the limit|time run out|time ran out|overtime|within the time|run out|before the time|meet the limit|keep to the limit|exceed the limit|inside the time|within time|too late|before time|in the time|by the clock|out of the time",
    ),
    (
        Limit,
        "long can i take|time can i take|does _ give|do they give|given|allow|may|permitted|am allowed|maximum time|be allowed|granted|how long do i have|how much time do i have|how much time am i given|how long am i given|how long do i get|how much time do i get|how long have i got|how much time have i got|how many minutes do i have|how many minutes do i get|limit|time limit|time allowed|allowed|am i given|do i get|long do i have|time do i have|time i have|maximum",
    ),
    (
        Total,
        "total|in all|altogether|whole|overall|entire|in total|everything|all of it|whole thing|from start to finish|from beginning to end|start to finish|all in all|entire thing|complete run|beginning to end|full run|full time|all together|as a whole",
    ),
    (
        Miss,
        "else should i have|should i have done|should have done|should have called|should i have called|complete|incomplete|get left out|got left out|leave something out|left something out|slip|slipped|missing out|miss out|missed out|to call|unmentioned|not there|not covered|not in there|miss|forget|forgot|forgotten|leave out|leave _ out|leave off|left out|left off|skip|omit|lack|absent|overlook|neglect|not called|not call|not hear|not heard|did not do|not do|not done|not mention|not say|not said|not get to|never called|never call|never heard|fail to call|failed to call|fail to do|failed to do|fail to mention|uncalled|slip my mind|gap|passed over|pass over|not announce",
    ),
    (Before, "earlier|sooner|prior|before|prior to|ahead of|earlier than|sooner than|preceding|precede|in front of"),
    (After, "once|later|behind|after|later than|behind the|subsequent to|once i had done|afterwards|following on"),
    (Following, "follow|comes after|come after|after that"),
    (
        First,
        "start with|initially|opening|first|earliest|first of all|begin with|start with|started with|began with|open with|first thing",
    ),
    (
        Last,
        "at the end|final thing|close with|most recent|finish with|finished with|ended with|end up with|close with|last|latest|final|at the very end|end with|finally|last thing|most recently|very last",
    ),
    (
        Order,
        "order|sequence|out of order|wrong order|right order|out of sequence|out of place|wrong place|right place|mix up|mixed up|swap|swapped|wrong way round|too early|jumbled|the right way round|too soon|out of turn|wrong moment|misplaced|in place",
    ),
    (Between, "between|from _ to|apart|in between|gap between|time between"),
    (
        Call,
        "call|call out|said|say|saying|mention|announce|hear|heard|done|doing|remember to|remember|do the|shout|speak|spoke|spoken|name|record|register|catch|caught|perform|note|noted|count for|include|get to|got to|say out loud|out loud|aloud|counted",
    ),
    (
        HowOften,
        "how often|how many times|how frequently|number of times|more than once|times|how many time|twice|once only|count of",
    ),
    (HowMany, "how many|number of|count|amount of"),
    (Step, "step|callout|call outs|calls|part of the facial|stage|task|item on the list|steps"),
    (
        Hygiene,
        "how clean|clean were my hands|do my hands|did my hands|hands hygiene|clean was i|hand washes|washed|cleaned|wash|hygiene|hand hygiene|wash my hands|clean my hands|hand wash|hand washing|washing my hands|cleaning my hands|washed my hands|cleaned my hands|hand cleaning|infection control|hands clean|clean hands|hand sanitation|sanitation|hand rub|my hands|hand care|wash hands|hand disinfection|disinfect my hands|hand sanitizing|washed hands",
    ),
    (
        Critical,
        "big mistake|real danger|at risk|safety rule|break a safety|safe|safely|pass or fail|knock out|knockout|kill|hurt the client|harm the client|client at risk|could have hurt|injure|risky|safety problem|endanger|dangerously|critical|serious|dangerous|danger|safety|unsafe|harm|harmful|severe|grave|worst|important|risk to the client|hurt somebody|hurt the client|deal breaker|vital|essential|crucial|major",
    ),
    (Fail, "fail|failed|cost me the exam|sink me|disqualify|fail me|lose me the exam|failing"),
    (
        Finding,
        "look at|find|found|finding|finding|mistake|error|fault|problem|issue|slip|thing to look at|things to look at|blunder|point you made|remark|flaw|trouble|complaint",
    ),
    (
        Wrong,
        "mess _ up|mess up|not good|poorly|wrong|incorrect|badly|mess up|messed up|not right|bad|went wrong|go wrong|screw up|off|amiss|botched|botch|mishandle",
    ),
    (
        Good,
        "work well|worked well|worked|work out|worked out|flawless|perfect|strengths|nice|success|succeed|succeeded|great|well|good|right|correct|go well|went well|did well|do well|strong|strength|fine|praise|correctly|okay then|get right|properly|nicely|strong points|positive",
    ),
    (
        HowDid,
        "tell me how i did|how did i do overall|how did i go|how well did i do|how well|how bad was i|how bad was it|how good was i|how good was it|report|sum everything up|what do you think of it|was it good|rate me|rate my run|general impression|summing up|how i did|how i was|how it went|how did i do|how was i|how did it go|how was it|how was the run|summary|summarize|sum up|sum it up|recap|result|outcome|how did that go|how was that|how have i done|how did the run go|overview|in short|verdict|how was my run|how did i get on|how did i perform|how did i fare|sum that up|performance|the upshot|bottom line",
    ),
    (
        Points,
        "reach the pass mark|how many out of|percentage|scored|point|points|mark|marks|score|grade|percent|pass mark|rating",
    ),
    (
        Drop,
        "fall|fallen|let something fall|slip out of my hand|floor|on the ground|item|dropped an item|drop|dropped|dropped item|fall down|fell|on the floor|fell down",
    ),
    (
        Pause,
        "pause|paused|held|hold the clock|clock held|clock stopped|stop the clock|stopped the clock|interruption|interrupted",
    ),
    (
        LastRun,
        "than before|since last time|than yesterday|last time|last run|previous|previous run|run before|the time before|last one|one before|before this|last attempt|yesterday|last session|previous time|previous attempt|last try|the other day|last rehearsal|earlier run|time around|earlier runs|before now|prior run|the run before|last week|the time before this|on the last",
    ),
    (
        Best,
        "best|personal best|record run|my record|best run|best time|best one|best attempt|top run|fastest run|best ever|finest|all time best",
    ),
    (
        Compare,
        "close to|close|near|beaten|beat|broke|broken|gotten better|get slower|got slower|get faster|got faster|how much slower|how much faster|quicker|closer|as good|doing against|increase|decrease|do better|how far off|far off|off|far from|difference to|fewer|faster|slower|how far|compare|compared|comparison|better|worse|improve|improvement|progress|differ|difference|different|against|versus|match|beat|got better|get better|closer to|stack up|up against|change|changed|get worse|measure up|faster overall|relative to|next to my|trend|closer|up to",
    ),
    (
        Ready,
        "go to the exam|go in for the exam|go for the exam|try the exam|dare the exam|in shape for the exam|pass like that|ready|readiness|pass|passing|chance|chances|odds|prepared|exam ready|good enough|likely to pass|how likely|fit for the exam|take the exam|sit the exam|probability|likelihood|able to pass",
    ),
    (
        Practise,
        "improve|review|change|exercise|should i repeat|get better|repeat|rehearse|look at again|weaknesses|struggle|should i learn|do better|practise|practice|work on|focus on|train|drill|rehearse next|weak|weakest|weakness|weak spot|weak point|concentrate on|get better at|improve on|repeat next|do better|do differently|brush up|polish up|tackle|pay attention to|needs work|need work|needs more work|attention|work on next|next time|improve next|improve at|struggle with|hone",
    ),
    (
        Need,
        "belong|belongs|how does|how do you|how should you|how would you|how would i|how can i|how must i|important|what matters for|recommend|suggest|suggestion|pointer|remember for|instructions|steps for|tips|technique|right way|proper way|way to|help me with|help with|know about|must i know|to know about|what about|how about|need|needs|require|hint|tip|advice|involve|how to|how do i|how do you|how should i|what do i do for|prepare for|goes into|go into|necessary|trick|what do i do when|how is|what is involved in|prerequisite|instruction|guide|guidance|supposed to do|do for|called for",
    ),
    (
        About,
        "about|tell me about|say about|regarding|concerning|on the subject of|information|info|details of|describe|more on",
    ),
    (
        Caution,
        "mind with|careful with|burn|danger|dangers|allergy|what could go wrong|safety|avoid|must not|not allowed|never do|caution|careful|watch out|look out|risk|warning|beware|mind|dangers of|watch for|look out for|hazard|precaution|burn|safe|safely|take care|care with|safety note",
    ),
    (
        Source,
        "based on|basis|which rule|what rule|where is that written|where is it written|who decided|who wants|who requires|regulation|law|evidence|whose rule|source|published|publish|bulletin|come from|comes from|came from|who says|rule book|rulebook|authority|written|reference|where is it from|standard|citation|where does it say|says so|official|based on|origin|where is that from",
    ),
    (
        Explain,
        "not understand|not get that|what is that about|what is wrong with that|background|not follow|make sense|where does that come in|cause|matter|matters|problem with|the matter|explain|why|mean|meaning|reason|elaborate|detail|in detail|tell me more|say more|more about|clarify|understand|go into that|what do you mean|how come|expand|explanation|how so|justify|more detail",
    ),
    (
        Next,
        "read on|continue|carry on|move on|then what|what then|what do i do now|what now|what is coming|do now|next|next step|coming up|upcoming|what now|comes next|following step|next one|step after",
    ),
    (Read, "read|read out|read me|recite|read aloud"),
    (
        Repeat,
        "once more|one more time|a second time|over again|not understand you|say what|sorry|excuse me|hear you|did you say|you just say|you just said|did you just say|again|last answer|repeat|say that again|once more please|say again|again please|pardon|come again|one more time please|did not catch|say it again|what was that|repeat yourself|did not hear that|did not get that|tell me again|what did you say|run that by me again|hear that again|hear it again|missed that",
    ),
    (
        Slower,
        "talk slower|talk more slowly|speak more slowly|talk a little slower|speak a little slower|less fast|too quick for me|speak slower|slowly|talk slower|slower|slow down|more slowly|too fast for me|not so fast|slowly",
    ),
    (
        Again,
        "do it one more time|do it once more|it one more time|it once more|do this again|once more from the beginning|another try|another round|a second run|second try|from the beginning|from the start|new run|new try|same one again|do that again|do this again|all over again|once again from the start|start again|start over|once more from the start|do it again|go again|another run|from the top|once more from the top|same again|try again|same section again|run it again|another go|over again|one more run|go through it again|begin again|restart|repeat the section|do the section again|one more time",
    ),
    (
        Enough,
        "we are done|no|nope|i am finished|am finished|finish|finish now|end it|end here|leave it|leave it there|over and out|all for today|all for now|close|cancel|thank you bye|had enough|enough|stop|that is all|no more questions|no more|quit|done asking|i am done|am done|be quiet|bye|goodbye|nothing else|no further questions|finished asking|that will be all|good night|nothing more|stop everything|emergency|no questions|that will do|we are done|exit",
    ),
    (
        Help,
        "questions can i ask|can i ask|could i ask|questions may i ask|can i ask you|can be asked|can one ask|may i say|could i ask|could i say|can i say|may i ask|could i ask you|what can i ask|what can i say|help|what may i ask|options|what do you know|what can you tell me|what can you answer|what else can i ask|possible questions|which questions|what questions|what are my choices|what do you understand",
    ),
    (Finish, "at the end|finish|finished|done|end|complete|completed|be through|get through|wrap up|stop work"),
    (
        Should,
        "has to|had to|have to be|needs to|may|must|shall|can|allowed to|should|supposed|ought|meant|expect|expected|must|have to",
    ),
    (Come, "come|came|comes|coming|happen|occur|belong|stand"),
    (Ran, "run|ran|running"),
    (Beyond, "what time is it|your name|your day|your mother|a break|learn that"),
    (Start, "begin to|start|started|begin|began|begun"),
];
