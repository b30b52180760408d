"""The project's words, one plain sentence each. DEVELOPERS.md prints the same."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Section

GLOSSARY: Final[dict[str, dict[str, str]]] = {
    "A diff and its masses": {
        "diff": "A sealed bevel-gear differential of the team, under one label for as long as its case lives.",
        "mark": "What tells its case from the others: a scratch, dots of a paint pen; shown beside its name.",
        "build": "One filling of a diff, from when it was closed until it is opened; rear-a/3 is the third of rear-a.",
        "fill": "The oil that goes into a build, and the act of pouring it in.",
        "dry mass": "What the diff weighs before oil, with the parts that stay on the scale while you pour; it "
        "holds until the diff is opened, rebuilt, washed out or gets another part.",
        "stop mass": "The reading at which you stop pouring: dry mass plus oil.",
        "fill window": "Readings that count as full: within 1 % of the oil, not under 0.02 g, or your own limit.",
        "closed": "The diff with lid and screws on, ready for the car; a closed mass is marked as such.",
        "closed again": "Of a diff that was apart and then ran: its build was not written down, only its oil is known.",
        "mass basis": "What was on the scale (all parts on the pan, open half, closed, closed with bearings and crown "
        "gear); only masses on the same basis are compared.",
        "fluid": "An oil as its label names it.",
        "bottle": "One bottle of a fluid; its own measured viscosity overrides the label's.",
        "shear rate": "How fast the gears drag the oil past the case: their speed at the rim over the gap. From about "
        "30,000 cSt up oils get thinner as it rises.",
        "flattened": "Of a ring: its section is no longer round, thin one way and wide the other, with the old volume.",
        "k = 1, k = 2": "How wide a ± is: one or two standard uncertainties. Every ± printed is k = 2, and one "
        "typed without its k is taken so.",
    },
    "On track": {
        "run": "One time on track; a row of notes may be several, and a row without a count is one.",
        "sister housing": "An empty housing of the same kind, kept and weighed alongside a diff: what its mass changes "
        "by is water, and is taken off.",
        "runs at a weighing": "As written beside it; else those of earlier days, and of its own day those written down "
        "before it, or in lines above it in the same notes; where nothing says, all of the day.",
        "swap": "Another diff put into a car; it holds from the next run on, and the diff leaves any other car.",
        "in turn": "Two builds run one after the other on one day, by one driver, in one car and one position.",
        "pair": "The two builds that a comparison is about; its result says nothing about either of them alone.",
        "call": "What was decided after a run: keep, change, undecided or broke.",
        "oil day": "One day, one diff, one oil. Shares of kept oils count days: a day of several calls or diffs counts "
        "once, and one with both calls is split.",
        "meeting": "Days in a row, such as a weekend. Two oils are compared by meeting, as its days are alike.",
        "how near": "How far a run's conditions are from those asked for, in steps of grip and °C; to order runs, a "
        "step counts as much as 5 °C.",
        "piece": "A seal, gear or other part as it was in one place of a diff, until another was noted there.",
        "diff's temperature": "As read first after the run. One worked out for the end of the run, or expected of air "
        "and track, is shown beside it or said where it is used, and never takes its place.",
        "idea": "Something to try; it stays on the list of its venue until a build tries it.",
    },
    "Before an event": {
        "event": "Race days or a test to go to, or that were: where, when, the weather and grip expected, which cars "
        "go and how many runs each is to do. Of a run: what it belongs to.",
        "plan": "What to do with each diff before an event, with which oil and parts, in what order and how many "
        "hours; without an event what is due before a usual day. One that is kept can be compared with a later one.",
        "act": "What a plan says of a diff, one of seven, the least work first: leave it, unclear, weigh it, look at "
        "it, change the oil, rebuild, build a second one. Unclear is what the records cannot tell.",
        "spare": "A diff that is in no car that goes.",
        "stock": "Parts of which the team once counted how many it has. What builds fit as new comes off, deliveries "
        "are added, and counting again settles it.",
        "kit": "Parts that are bought as one, by a list of the team's own.",
        "short": "Of a part or an oil: there is less than the plan takes, with what is to stay in the box.",
        "to pack": "What to take to an event: the team's own list, and what the plan adds to it.",
    },
    "Verdicts of a calculation": {
        "ok": "No problem was found.",
        "caution": "It may go on; read the reason first.",
        "stop": "Do not go on until the reason is dealt with.",
        "unclear": "The measurement cannot decide; the reason says what would settle it.",
    },
    "Words of the shelf": {
        "ready": "Run it.",
        "look at it": "It may run, but read its line first: some oil lost, a limit of runs or of seal uses "
        "reached, or a rough feel.",
        "weigh it": "Nobody knows how much oil is in it now; weigh it before it runs.",
        "open it": "Do not run it until it has been opened: it lost too much oil, broke in its last run, or turns "
        "notchy.",
        "apart": "It was opened and not built again since, is on the bench, or was never built.",
    },
    "Whether a diff was full in a run": {
        "full": "A weighing after the run was certainly under the limit.",
        "unknown": "No weighing proves it either way.",
        "doubtful": "The run was after the last good weighing and before the first bad one.",
        "lost oil": "The run was after the first bad weighing.",
    },
    "How things are kept": {
        "record": "What people wrote down: a build, a run, a weighing.",
        "fact": "What follows from the records, worked out in one place: runs, oil, what was lost, the shelf word.",
        "entry": "Everything that one action of a person changed, with who, when and which command.",
        "part": "A sheet, some lines or the values of one place in the car, of a file that is imported in parts; each "
        "has its own rejected rows.",
        "split": "To read a cell such as 7k/10k as one value for each place in the car, as a profile says.",
        "announced name": "What the laptop calls itself in its networks, such as team.local, so that an address stays "
        "the same in another one.",
        "paired phone": "A phone, or a browser of this computer, that may write until its pairing is ended.",
        "waits": "Of an entry: it was noted on a phone without the laptop, and is kept there until it is handed over.",
        "hand over": "To send what waits on a phone to the laptop, one after the other: each is stored once, as of "
        "when it was noted.",
        "take back": "To put right an entry by a new one: what it added goes, what it changed or removed is as before.",
        "backup": "A copy of the database file as it was at one moment, read back before it counts; named by the time.",
        "bring back": "To put a copy into the place of the database, which is kept under another name.",
        "export": "All that a database holds as a folder of open files, which any program reads and which comes back "
        "unchanged.",
        "weekend": "What was touched since a day as one file: each record whole, with its past and all it refers to.",
        "give, gather": "Of a weekend: one laptop shows a code, another fetches it with that code and takes it in.",
        "label": "Of paper: what is stuck on a bag, a bottle or a tin, never on a diff; else a record's name.",
        "edition": "A dated copy of a database for others to read; the same content gives the same bytes.",
        "guard": "The sign ' before a text in an export that a spreadsheet would run; it does not belong to the text.",
        "come together": "Of two databases of a team: each then holds all that either did, and no version is lost.",
        "merge": "To bring in what another database of the team holds. It is nobody's entry and decides nothing.",
        "clash": "A record that was changed in two places apart. All are kept, and the last one is shown until "
        "somebody says which holds.",
        "join": "To say that two diffs, oils, people, tracks, cars or scales are one and the same; equal names need no "
        "join.",
        "one with": "Of a record that is the same thing as another under a second id: one of them stands for both.",
        "as written": "The id or the name that a person or a sheet put down, kept beside what stands for it now.",
        "erase": "To take a person, a text or a photograph out for good, from the past too; a word stands there.",
        "settle": "To say which version of a clash holds: an entry, which goes along with the next merge.",
        "version": "A state of a record; each change makes a new one, and history keeps the old ones.",
        "limit": "A bound for runs, seals, lost oil or the fill window: your own where you set one, else our default.",
        "left in a bottle": "Its mass on the scale less that of the empty bottle, less what builds took since.",
        "job": "Something to do on a diff before the next time out: rebuild it, change its oil, look at it, weigh it. "
        "Its minutes are those that you typed, of a build those of your own builds once five were timed.",
        "usual day": "As many runs as a diff has on a day, the median of the newest ten days with runs that say more "
        "than that; it counts where nobody planned runs.",
        "hands": "Of a build: the minutes in which somebody works on it, each step from begun to done. Coffee between "
        "two steps does not count.",
        "waiting": "Of a build: the minutes that go by themselves: drying, standing open, resting on paper. Several "
        "diffs wait together, so of a plan the longest waiting counts.",
        "bench job": "Work on a diff at the bench, from its first step to its card: step by step, or the same again as "
        "another build. It may be left and taken up again on another phone.",
        "photograph": "A picture hung on an opening, a part, a seal, a build or a bottle: what is seen and when.",
        "picture": "What a photograph shows: kept once by its content, upright, without place, phone and time.",
        "fingerprint": "Of a calculator: what it declares and finds for its worked examples, as a few letters. Results "
        "of one version that contradict each other in it were not kept by one formula.",
        "finding": "Something that a check found worth a look, with how bad it is and what to do.",
        "put by": "Of a finding: it may rest, for a reason that was given, until what it says changes.",
        "to finish": "What the evening can still add: fields left empty in runs, builds and weighings of the last "
        "days, and work left on the bench.",
        "note row": "A row of a spreadsheet or CSV file that an import turned into records.",
        "profile": "A file with a team's own headings, units and words for imports, or with the answers given for one "
        "file.",
        "source": "Where a number or a formula comes from and how it was seen.",
        "plugin": "A module that adds calculators, checks, charts or reference tables.",
        "flaw": "Something in a plugin that its author should mend. A serious one leaves a calculator, or all of the "
        "plugin, out.",
    },
}
"""Words with their sentence, under a heading each."""


def glossary_page() -> ManualPage:
    """Every word with its sentence."""
    return ManualPage(
        "glossary",
        "Glossary",
        "The words that commands and pages use.",
        tuple(
            Section(heading, (Entries(tuple(ManualEntry(word, sentence) for word, sentence in words.items())),))
            for heading, words in GLOSSARY.items()
        ),
    )
