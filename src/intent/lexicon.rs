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
        "does|passed by|whatever|whichever|examiner|judge|proctor|in my place|if you were me|compared|leave|lie|lies|lay|the most|most|close|sit|how does|how do|how can|how would|at the end|what time|like this|like that|like it|reach|reached|achieve|reaching|let|most of all|end up|ended up|rule|break|broke|rather|already|instead|such|part|overall|its|their|enough|manage|managed|busy|through|anywhere|somewhere|since|amount|kind|sort|lot|shall|may|might|must|apply|applying|applied|put|stay|stayed|keep|kept|sat|item|again|lose|lost|lose|use|used|item|would like|i would like|being|once|ago|by any chance|perchance|new|together|another|other|others|both|along|down|per|across|among|there any|at all|please tell|right|well|now|find|found|see|saw|happen|happened|back|around|before i forget|somehow|personally|honestly|finally|afterward|course|in general|generally|basically|simply|exact|precise|precisely|completely|lately|specific|specifically|also|the|where|far|a|an|of|to|my|me|mine|i|you|we|us|in|on|for|at|and|so|please|can|could|would|will|tell|say to me|know|just|okay|well|um|uh|er|hey|do|did|does|have|had|has|was|were|is|are|be|been|am|there|with|by|from|as|any|anything|something|some|what|which|who|how|one|ones|really|actually|exactly|run|session|exam|section|rehearsal|today|give|show|let|want|get|got|go|went|gone|going|your|up|out|list|but|if|whether|if i|ever|also|wonder|remind|thing|stuff|than|or|all|much|many|more|no|yes|then|now|here|this|these|those|us|each|every|particular|part|made|make|him|them|her|they|he|she|because|when i was|while|during|within|about how|roughly|approximately|actual|own|according|into|think|sure|quick question|question|thanks|thank|hello|hi|alright|right so|anyway|bit|little|quite|very|too|still|yet|only|even|else|thought|wanted|supposedly|possibly|maybe|perhaps|sorry|excuse",
    ),
    (That, "that|that step|that one|this step|this one|the same|them"),
    (It, "it"),
    (Not, "no|not|never|without|nothing|none"),
    (
        HowLong,
        "what was the total|what is the total|come to in time|came to in time|come to in minutes|take long|took long|last long|how much time passed|how many minutes passed|how much time went by|how many minutes went by|how much time elapsed|what time did i need|time did i need|how many minutes did i need|how many seconds did i need|how much of the time|how long|how much time|how many minutes|how many seconds|how much of my time|the length of|the duration of|duration|length",
    ),
    (Time, "time passed|time pass|time go by|time went by|time|minute|second|clock"),
    (
        Took,
        "working|at work|last|busy with|stretch|working on|work on|cost me|cost in|eat up|ate|go into|went into|going into|use up|used up|take|took|taken|last for|spend|spent|devote|eat",
    ),
    (
        When,
        "at what point in time|what point in time|what time was|what time|at what moment|what moment|how many minutes in was|which moment|how far along|at which point|which point|minutes in|far in|how far into|clock time|how many minutes in|how long in|how many minutes into it|when|at what time|what time did|at which minute|at what minute|what minute|which minute|how far in|how late|how early|at what point|what point|how soon|where on the clock|on what minute",
    ),
    (
        Longest,
        "cost the most time|cost most time|cost me most time|time eater|biggest time eater|most of the clock|longest time|took me longest|most drawn out|long winded|took forever|take forever|biggest chunk of time|biggest share of time|needed most time|longest for|so much time|too much time|took so long|most seconds|longer than anything|longer than the others|longest of all|used up the most|used most|needed longest|needed the most|longest|the most|hold _ up|held _ up|hold me up|held me up|ate up|most of my minutes|most minutes|slow me down|slowed me down|so long|slowest|most time|most of my time|most of the time|most minutes|biggest|lose _ time|lost _ time|lost the most|waste _ time|slowest step|dragged|drag on|time sink|lose time|lost time|waste time|wasted time|where did the time go|where did my time go|time go",
    ),
    (
        Shortest,
        "over the fastest|over fastest|over quickest|over the quickest|through quickest|through fastest|done quickest|done fastest|smallest share of time|shortest time|took me least|in no time|least minutes|soonest|shorter than the others|quickest of all|shortest of all|fewest seconds|least amount of time|fewest|quickly|least of all|shortest|quickest|fastest|least time|briefest|least|fewest minutes|soonest done|smallest",
    ),
    (
        Plan,
        "is there for|there for|i plan|plan for|reckoned|plan|schedule|target|budget|intend|estimate|by plan|allot|allotted|as planned|set aside|goal",
    ),
    (
        Over,
        "everything went over|everything over|lose time compared to|lost time compared to|lose time against|compared to plan|compared with plan|more than i planned|more than intended|more than it was supposed to|past its time|past its plan|longer than intended|took extra time|overtime on|too many minutes|more than planned|more than plan|over target|over schedule|lost time against|lose time against|behind plan|behind schedule|surpass|more than it should|overshoot|overshot|stretch|stretched|drag|slowly|exceed|too late with|behind plan|over budget|slower|over time on|over|beyond|exceed|too long|longer than|too slow|slower than|behind|overrun|overran|run over|ran over|more time than|above|too much time|past|longer|slow|run long|ran long|off pace|go long|went long",
    ),
    (
        Under,
        "less than planned|sooner than planned|quicker than planned|with time to spare|shorter than intended|too little on|skimped|raced through|race through|breezed through|breeze through|flew through|save time|saved time|gain time|gained time|make up time|made up time|too hasty|hasty|hastily|sped|speed|fewer|less|ahead of plan|ahead of schedule|ahead of time|ahead of target|ahead of the plan|hurry through|sped through|quick with|quick|quickly|under|faster than|too short|too quick|quicker than|rush|ahead|too fast|less than|shorter than|below|less time than|too little time|hurry|hurried|skimp|cut short|faster|shorter",
    ),
    (
        Left,
        "slack|slack was there|time to burn|breathing room|headroom|in the bank|minutes free|time free|unused|to go|over at the end|time over|in hand|kept in reserve|reserve|buffer|early|time left|left over|to spare|spare|remain|remaining|was left|were left|have left|had left|left on the clock|left at the end|leftover|left",
    ),
    (
        InTime,
        "how close did i cut it|cut it close|cut it fine|close shave|within my time|by the bell|before the bell|make the time|made the time|in good time|run short of time|ran short of time|short of time|make the time limit|i late|late was i|was i late|by how much was i late|time suffice|enough time|time was enough|time enough|too slow for the limit|keep to time|kept to time|kept the time|keep the time|how late|how close|how early|punctual|before time|before the end|close to the limit|close was i to the limit|within the time limit|inside the time limit|in time|on time|over time|out of time|inside the limit|within the limit|beat the clock|make the limit|make it|over the limit|before the limit|under the limit|before time was up|past the limit|time run out|time ran out|overtime|within the time|run out|before the time|meet the limit|keep to the limit|exceed the limit|inside the time|within time|too late|before time|in the time|by the clock|out of the time",
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
        "forgot about|forget about|unaccounted|unaccounted for|wait for in vain|waiting for in vain|hole|hole in my sequence|all the steps get called|all steps get called|all the steps called|all steps called|undone|left undone|unsaid|left unsaid|not make it in|slip through|slipped through|slip through the cracks|slipped through the cracks|fall through the cracks|fell through the cracks|not come up|never came up|did not come up|cover everything|covered everything|skip over|skipped over|go missing|went missing|lost sight of|still missing|to be desired|got omitted|not turn up|never turned up|not reach my lips|blanked on|else should i have|should i have done|should have done|should have called|should i have called|complete|incomplete|get left out|got left out|leave something out|left something out|slip|slipped|missing out|miss out|missed out|to call|unmentioned|not there|not covered|not in there|miss|forget|forgot|forgotten|leave out|leave _ out|leave off|left out|left off|skip|omit|lack|absent|overlook|neglect|not called|not call|not hear|not heard|did not do|not do|not done|not mention|not say|not said|not get to|never called|never call|never heard|fail to call|failed to call|fail to do|failed to do|fail to mention|uncalled|slip my mind|gap|passed over|pass over|not announce",
    ),
    (
        Before,
        "should i have done before|should have done before|should i have called before|should have called before|earlier|sooner|prior|before|prior to|ahead of|earlier than|sooner than|preceding|precede|in front of",
    ),
    (After, "once|later|behind|after|later than|behind the|subsequent to|once i had done|afterwards|following on"),
    (Following, "follow|comes after|come after|after that"),
    (
        First,
        "did i begin|did i start|did i open|start out with|started out with|start off with|started off with|kick off with|kicked off with|lead with|led with|start with|initially|opening|first|earliest|first of all|begin with|start with|started with|began with|open with|first thing",
    ),
    (
        Last,
        "end on|ended on|finish up with|finished up with|wrap up with|wrapped up with|round off with|rounded off with|conclude with|concluded with|at the end|final thing|close with|most recent|finish with|finished with|ended with|end up with|close with|last|latest|final|at the very end|end with|finally|last thing|most recently|very last",
    ),
    (
        Order,
        "backwards|the other way round|other way around|in the correct order|order of the steps|order of things|reversed|switched|switch|shuffled|out of line|ahead of its time|before its time|premature|prematurely|too late in the order|wrong position|right position|order|sequence|out of order|wrong order|right order|out of sequence|out of place|wrong place|right place|mix up|mixed up|swap|swapped|wrong way round|too early|jumbled|the right way round|too soon|out of turn|wrong moment|misplaced|in place",
    ),
    (
        Between,
        "from|until|till|up until|elapse|time elapsed|gap from|distance from|between|apart|in between|gap between|time between",
    ),
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
        "hygienic|infection|hand hygienic|disinfect|disinfection|clean with my hands|cleanliness|hand cleanliness|how clean|clean were my hands|do my hands|did my hands|hands hygiene|clean was i|hand washes|washed|cleaned|wash|hygiene|hand hygiene|wash my hands|clean my hands|hand wash|hand washing|washing my hands|cleaning my hands|washed my hands|cleaned my hands|hand cleaning|infection control|hands clean|clean hands|hand sanitation|sanitation|hand rub|my hands|hand care|wash hands|hand disinfection|disinfect my hands|hand sanitizing|washed hands",
    ),
    (
        Critical,
        "client in danger|in danger|put the client in danger|client at harm|cost me my license|against safety|automatic failure|auto fail|hurt someone|harm someone|harm somebody|injured|big mistake|real danger|at risk|safety rule|break a safety|safe|safely|pass or fail|knock out|knockout|kill|hurt the client|harm the client|client at risk|could have hurt|injure|risky|safety problem|endanger|dangerously|critical|serious|dangerous|danger|safety|unsafe|harm|harmful|severe|grave|worst|important|risk to the client|hurt somebody|hurt the client|deal breaker|vital|essential|crucial|major",
    ),
    (Fail, "fail|failed|cost me the exam|sink me|disqualify|fail me|lose me the exam|failing"),
    (
        Finding,
        "know about my mistakes|look at|find|found|finding|finding|mistake|error|fault|problem|issue|slip|thing to look at|things to look at|blunder|point you made|remark|flaw|trouble|complaint",
    ),
    (
        Wrong,
        "mess _ up|mess up|not good|poorly|wrong|incorrect|badly|mess up|messed up|not right|bad|went wrong|go wrong|screw up|off|amiss|botched|botch|mishandle",
    ),
    (
        Good,
        "good about it|good about that|good about my run|proud of|best part|to be proud of|praise me|on the plus side|upside|highlights|succeeded at|nailed|nail|work well|worked well|worked|work out|worked out|flawless|perfect|strengths|nice|success|succeed|succeeded|great|well|good|right|correct|go well|went well|did well|do well|strong|strength|fine|praise|correctly|okay then|get right|properly|nicely|strong points|positive",
    ),
    (
        HowDid,
        "short version|the short version|in a nutshell|quick version|long story short|how it all went|how everything went|an overall verdict|your impression|sum up my run|what is the damage|tell me how i did|how did i do overall|how did i go|how well did i do|how well|how bad was i|how bad was it|how good was i|how good was it|report|sum everything up|what do you think of it|was it good|rate me|rate my run|general impression|summing up|how i did|how i was|how it went|how did i do|how was i|how did it go|how was it|how was the run|summary|summarize|sum up|sum it up|recap|result|outcome|how did that go|how was that|how have i done|how did the run go|overview|in short|verdict|how was my run|how did i get on|how did i perform|how did i fare|sum that up|performance|the upshot|bottom line",
    ),
    (
        Points,
        "passing score|reach the passing score|passing mark|reach the passing mark|full marks|result in points|out of a hundred|how high did i score|points total|total score|reach the pass mark|how many out of|percentage|scored|point|points|mark|marks|score|grade|percent|pass mark|rating",
    ),
    (
        Drop,
        "let go of|hit the floor|land on the floor|landed on the floor|tumble|slip from my hands|slipped from my hands|fall|fallen|let something fall|slip out of my hand|floor|on the ground|item|dropped an item|drop|dropped|dropped item|fall down|fell|on the floor|fell down",
    ),
    (
        Pause,
        "clock ever stopped|clock ever held|ever stopped|stood still|stand still|time out|clock stand still|clock stood still|break in the run|breaks|pause|paused|held|hold the clock|clock held|clock stopped|stop the clock|stopped the clock|interruption|interrupted",
    ),
    (
        LastRun,
        "than last time|than the last time|than my last run|than the last run|than my previous run|than the time before|the run before this|since the last one|in my last|on my last try|earlier today|my former run|former run|the preceding run|preceding run|than before|since last time|than yesterday|last time|last run|previous|previous run|run before|the time before|last one|one before|before this|last attempt|yesterday|last session|previous time|previous attempt|last try|the other day|last rehearsal|earlier run|time around|earlier runs|before now|prior run|the run before|last week|the time before this|on the last",
    ),
    (
        Best,
        "personal record|new record|record time|best score|best result|best ever run|record of mine|best|personal best|record run|my record|best run|best time|best one|best attempt|top run|fastest run|best ever|finest|all time best",
    ),
    (
        Compare,
        "gotten faster|gotten slower|become faster|become better|become slower|how close to|than last time|than the last time|than my last run|than the last run|than my previous run|than before|than the time before|than yesterday|close to|close|near|beaten|beat|broke|broken|gotten better|get slower|got slower|get faster|got faster|how much slower|how much faster|quicker|closer|as good|doing against|increase|decrease|do better|how far off|far off|off|far from|difference to|fewer|faster|slower|how far|compare|compared|comparison|better|worse|improve|improvement|progress|differ|difference|different|against|versus|match|beat|got better|get better|closer to|stack up|up against|change|changed|get worse|measure up|faster overall|relative to|next to my|trend|closer|up to",
    ),
    (
        Ready,
        "ready for the exam|ready for the test|ready for the real thing|stand a chance|fit for the test|take the test|pass the test|pass the exam|pass tomorrow|chance of passing|chances of passing|go to the exam|go in for the exam|go for the exam|try the exam|dare the exam|in shape for the exam|pass like that|ready|readiness|pass|passing|chance|chances|odds|prepared|exam ready|good enough|likely to pass|how likely|fit for the exam|take the exam|sit the exam|probability|likelihood|able to pass",
    ),
    (
        Practise,
        "improvement|need improvement|needs improvement|needs improving|need improving|go over again|work most on|work hardest on|polish|weaker|learn next|needs practice|need practice|needs training|need training|sharpen|strengthen|improve|review|change|exercise|should i repeat|get better|repeat|rehearse|look at again|weaknesses|struggle|should i learn|do better|practise|practice|work on|focus on|train|drill|rehearse next|weak|weakest|weakness|weak spot|weak point|concentrate on|get better at|improve on|repeat next|do better|do differently|brush up|polish up|tackle|pay attention to|needs work|need work|needs more work|attention|work on next|next time|improve next|improve at|struggle with|hone",
    ),
    (
        Need,
        "explain how to|explain how|walk me through|talk me through|describe how to|how one does|how you do|how is it done|do it properly|do it right|what goes with|belong|belongs|how does|how do you|how should you|how would you|how would i|how can i|how must i|important|what matters for|recommend|suggest|suggestion|pointer|remember for|instructions|steps for|tips|technique|right way|proper way|way to|help me with|help with|know about|must i know|to know about|what about|how about|need|needs|require|hint|tip|advice|involve|how to|how do i|how do you|how should i|what do i do for|prepare for|goes into|go into|necessary|trick|what do i do when|how is|what is involved in|prerequisite|instruction|guide|guidance|supposed to do|do for|called for",
    ),
    (
        About,
        "about|tell me about|say about|regarding|concerning|on the subject of|information|info|details of|describe|more on",
    ),
    (
        Caution,
        "have to watch|do i watch|watch with|to watch|mind with|careful with|burn|danger|dangers|allergy|what could go wrong|safety|avoid|must not|not allowed|never do|caution|careful|watch out|look out|risk|warning|beware|mind|dangers of|watch for|look out for|hazard|precaution|burn|safe|safely|take care|care with|safety note",
    ),
    (
        Source,
        "which document|what document|document|which book|where did you get that|where can i read|look that up|look it up|says that about|who says that|who says this|based on|basis|which rule|what rule|where is that written|where is it written|who decided|who wants|who requires|regulation|law|evidence|whose rule|source|published|publish|bulletin|come from|comes from|came from|who says|rule book|rulebook|authority|written|reference|where is it from|standard|citation|where does it say|says so|official|based on|origin|where is that from",
    ),
    (
        Explain,
        "go deeper|spell that out|spell it out|not clear|unclear|reasoning|rationale|what is behind that|say why|tell me why|not understand|not get that|what is that about|what is wrong with that|background|not follow|make sense|where does that come in|cause|matter|matters|problem with|the matter|explain|why|mean|meaning|reason|elaborate|detail|in detail|tell me more|say more|more about|clarify|understand|go into that|what do you mean|how come|expand|explanation|how so|justify|more detail",
    ),
    (
        Next,
        "comes now|come now|read on|continue|carry on|move on|then what|what then|what do i do now|what now|what is coming|do now|next|next step|coming up|upcoming|what now|comes next|following step|next one|step after",
    ),
    (Read, "read|read out|read me|recite|read aloud"),
    (
        Repeat,
        "what was that again|say it one more time|repeat the answer|repeat your answer|didn't hear you|not hear you|not hear that|once more|one more time|a second time|over again|not understand you|say what|sorry|excuse me|hear you|did you say|you just say|you just said|did you just say|again|last answer|repeat|say that again|once more please|say again|again please|pardon|come again|one more time please|did not catch|say it again|what was that|repeat yourself|did not hear that|did not get that|tell me again|what did you say|run that by me again|hear that again|hear it again|missed that",
    ),
    (
        Slower,
        "that was too fast|that is too fast|this is too fast|this was too fast|speak too fast|talk too fast|speaking too fast|talking too fast|you are too fast|you go too fast|going too fast for me|less quickly|at a slower pace|take it slower|talk slower|talk more slowly|speak more slowly|talk a little slower|speak a little slower|less fast|too quick for me|speak slower|slowly|talk slower|slower|slow down|more slowly|too fast for me|not so fast|slowly",
    ),
    (
        Again,
        "to go again|want to go again|try that again|try it again|another attempt|let me try|have another go|take it from the top|run through it again|run it once more|redo|redo it|redo that|do it one more time|do it once more|it one more time|it once more|do this again|once more from the beginning|another try|another round|a second run|second try|from the beginning|from the start|new run|new try|same one again|do that again|do this again|all over again|once again from the start|start again|start over|once more from the start|do it again|go again|another run|from the top|once more from the top|same again|try again|same section again|run it again|another go|over again|one more run|go through it again|begin again|restart|repeat the section|do the section again|one more time",
    ),
    (
        Enough,
        "i am all set|we can stop|let us stop|stop now|thanks bye|that is it|that is it for today|that is everything|i have no questions|no further question|good bye|good bye now|we are done|no|nope|i am finished|am finished|finish|finish now|end it|end here|leave it|leave it there|over and out|all for today|all for now|close|cancel|thank you bye|had enough|enough|stop|that is all|no more questions|no more|quit|done asking|i am done|am done|be quiet|bye|goodbye|nothing else|no further questions|finished asking|that will be all|good night|nothing more|stop everything|emergency|no questions|that will do|we are done|exit",
    ),
    (
        Help,
        "questions can you answer|can you answer|what kind of questions|what sort of questions|give me examples|what are you able to answer|how can you help|what is possible|what else is possible|questions can i ask|can i ask|could i ask|questions may i ask|can i ask you|can be asked|can one ask|may i say|could i ask|could i say|can i say|may i ask|could i ask you|what can i ask|what can i say|help|what may i ask|options|what do you know|what can you tell me|what can you answer|what else can i ask|possible questions|which questions|what questions|what are my choices|what do you understand",
    ),
    (
        Finish,
        "when i finished|when i was done|when it ended|at the end|finish|finished|done|end|complete|completed|be through|get through|wrap up|stop work",
    ),
    (
        Should,
        "does|has to|had to|have to be|needs to|may|must|shall|can|allowed to|should|supposed|ought|meant|expect|expected|must|have to",
    ),
    (Come, "come up|came up|come|came|comes|coming|happen|occur|belong|stand"),
    (Ran, "run|ran|running"),
    (
        Beyond,
        "call second|call third|call fourth|called second|called third|second callout|third callout|second step|third step|longest run|slowest run|worst run|what time is it|your name|your day|your mother|a break|learn that",
    ),
    (Start, "did i begin|did i start|did i open|begin to|start|started|begin|began|begun"),
];
