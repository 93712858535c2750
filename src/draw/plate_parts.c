#include "draw/plate_parts.h"

#include <string.h>

static const struct plate_part_row rows[PLATE_PARTS] = {
    [PART_HOUR_HAND] = {"hour hand", "Hour hand",
        "Shows the hour; it is held on the hour pipe by friction and can be moved there on most "
        "clocks.",
        "Moved on its pipe it shows one hour and the clock strikes another, by the same "
        "difference all round the dial."},
    [PART_MINUTE_HAND] = {"minute hand", "Minute hand",
        "Shows the minute and turns with the minute arbor; its bush or square fixes where it "
        "points when the let-off falls.",
        "A turned bush lets the clock sound some minutes before or after the hand reaches the "
        "mark; a loose hand slips under the lift."},
    [PART_MOTION_WORK] = {"motion work", "Motion work",
        "Cannon wheel, minute wheel and hour wheel: twelve turns of the minute hand to one of the "
        "hour hand. The minute wheel carries the lobes or pins that let the trains off.",
        "Meshed a tooth off, count and let-off stand wrong against the hands; with weak cannon "
        "friction the hands stop while the pendulum goes on."},
    [PART_LIFTING_PIECE] = {"lifting piece", "Lifting piece",
        "Raised by the lobe, it lets the train run up to warning and frees it when it drops.",
        "Worn, bent, gummed or loose on its arbor it lets off late, early, at random or not at "
        "all."},
    [PART_WARNING] = {"warning", "Warning wheel",
        "Some minutes before the let-off the train is freed and runs about half a turn of this "
        "wheel, until its pin meets the warning lever.",
        "Too short a run: it may not start or wedges both trains. Pin missing the lever: it "
        "sounds at warning, minutes early."},
    [PART_SNAIL] = {"snail", "Snail",
        "A stepped cam, twelve steps for twelve hours. The depth of the step under the rack tail "
        "is the number of blows.",
        "Off by a step, the count is wrong by the same number at every hour; a worn step or high "
        "spot spoils one hour only."},
    [PART_RACK] = {"rack", "Rack",
        "Falls onto the snail and is gathered up one tooth for each blow.",
        "If it does not fall, or falls only partly, the clock is silent or strikes too few; "
        "usually its post is gummed or its spring weak."},
    [PART_RACK_TAIL] = {"rack tail", "Rack tail",
        "The arm that feels the snail and so measures how far the rack falls.",
        "Bent by part of a tooth it makes counts one out here and there; bent sideways it misses "
        "the snail and the clock strikes twelve or more."},
    [PART_RACK_HOOK] = {"rack hook", "Rack hook",
        "Holds each tooth of the rack as it is gathered.",
        "Worn or high it slips a tooth: too many blows now and then. If it does not drop, the "
        "rack falls back and the strike runs on."},
    [PART_GATHERING_PALLET] = {"gathering pallet", "Gathering pallet",
        "Turns once a blow and gathers one tooth of the rack; on many clocks its tail stops the "
        "train.",
        "Loose or worn it gathers no tooth, or two, at a turn; put on wrongly it locks early or "
        "late."},
    [PART_LOCKING_PIN] = {"locking pin", "Locking",
        "Where the train comes to rest at the end of the count.",
        "Too little engagement: it slips past and runs on. Too much: it is slow to be freed."},
    [PART_COUNT_WHEEL] = {"count wheel", "Count wheel",
        "One slot for each hour; the raised parts between are as long as the hour has blows. It "
        "keeps its own count and knows nothing of the hands.",
        "Any let-off missed or added leaves it out of step until it is tripped round. A bent "
        "sector or burred slot spoils the same hour each time."},
    [PART_COUNT_LEVER] = {"count lever", "Count lever",
        "Rides on the count wheel and drops into a slot to end the count.",
        "Dropping late it runs into the next hour, dropping early it leaves the count unfinished, "
        "not dropping it strikes till the power is out."},
    [PART_CHIME_COUNT_WHEEL] = {"chime count wheel", "Quarter count wheel",
        "Its parts are one, two, three and four changes long: it ends each quarter.",
        "A missed let-off leaves the quarters one behind the hands, until the corrector brings "
        "them right or a person does."},
    [PART_CORRECTOR] = {"self-correcting lever", "Corrector",
        "Locks the chime after every third quarter; only the taller hour lobe lifts high enough "
        "to free it, so that the hour's chime comes at the hour.",
        "Never locking it never corrects; never freed, there is no fourth quarter and, where the "
        "chime lets off the strike, no hour."},
    [PART_CHIME_DRUM] = {"chime drum", "Chime drum",
        "Pins lift the hammers, one change after another.",
        "Turned on its arbor by a note or a change: the right number of notes, the wrong tune. "
        "A bent pin drops one note."},
    [PART_SELECTOR] = {"selector", "Tune selector",
        "Shifts the drum endways to another set of pins.",
        "Between two tunes hammers miss or fall in pairs; never move it within five minutes of "
        "a let-off."},
    [PART_HAMMER] = {"hammer", "Hammer",
        "Lifted by a pin and let fall; a check spring holds it just clear of the sounder.",
        "Resting on the sounder it thuds, too far away it is silent, without check it strikes "
        "twice; bound, it stalls the train."},
    [PART_RETURN_SPRING] = {"return spring", "Hammer spring",
        "Drives the hammer at the sounder, or brings a lever back.",
        "Weak or off: soft or missing blows, levers that hang."},
    [PART_SOUNDER] = {"sounder", "Sounder",
        "Rod, tube, gong or bell.",
        "Touching something it buzzes; loose in its block it sounds dull; displaced it is missed."},
    [PART_BELLOWS] = {"bellows/bird", "Bellows and bird",
        "Two bellows lifted in turn give the call; the bird nods and the door opens.",
        "Torn paper: one note only puffs. Door or bird catching holds the strike train."},
    [PART_SILENT_LEVER] = {"silent lever", "Silent lever",
        "Keeps hammers or train from sounding, by the owner's wish or at night.",
        "Left half way or forgotten it is the commonest reason for silence; a night cam may "
        "stand twelve hours out."},
    [PART_FLY] = {"fly", "Fly",
        "A fan at the end of the train; the air holds back the speed.",
        "Loose on its arbor the strike races; oil or dust on it, it drags."},
    [PART_PIVOTS] = {"pivot holes", "Pivots",
        "Every arbor turns in two holes, each with a trace of oil.",
        "Dry, dirty or worn: slow, uneven, stopping in the middle, weak in the cold."},
    [PART_POWER] = {"mainspring/weight", "Weight or spring",
        "Drives its train; each train has its own.",
        "Unwound, run down, jammed or the wrong weight on the hook: slow, then silent."},
    [PART_CABLE] = {"cable/chain", "Line, cable or chain",
        "Carries the weight.",
        "Off its pulley or barrel, crossed or slipping on the wheel: no drive."},
    [PART_BEAT] = {"suspension/beat", "Suspension and beat",
        "The pendulum or balance that keeps time; it must tick evenly.",
        "Out of beat or level the whole clock stops, strike and all."},
};

const struct plate_part_row *plate_part_row(enum plate_part part)
{
    return part >= 0 && part < PLATE_PARTS ? &rows[part] : NULL;
}

enum plate_part plate_part_of(const char *word)
{
    for (int i = 0; i < PLATE_PARTS; i++)
        if (strcmp(rows[i].word, word) == 0)
            return (enum plate_part)i;
    return PART_NONE;
}
