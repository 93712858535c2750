#include "suite.h"

#include <dirent.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "diagnose/story.h"
#include "err.h"
#include "mem.h"

static struct words *words;
static struct phrases *phrases;

static int load_tables(void **state)
{
    (void)state;
    struct err e = {0};
    words = words_load("chimes/words.yaml", &e);
    phrases = words ? phrases_load("chimes/phrases-en.yaml", words, &e) : NULL;
    err_print(&e, stderr);
    err_release(&e);
    return phrases ? 0 : -1;
}

static int free_tables(void **state)
{
    (void)state;
    phrases_free(phrases);
    words_free(words);
    return 0;
}

/* Read a story into an empty sheet; the caller releases both. */
static void read_story(const char *text, struct sheet *s, struct story *story)
{
    struct err e = {0};
    memset(story, 0, sizeof *story);
    sheet_init(s, words);
    if (!story_read(phrases, text, strlen(text), s, story, &e))
        fail_msg("%s", e.line[0]);
}

/* Sentences as callers and technicians say them, and what must come of them in shorthand: no
 * more and no less. */
static const struct {
    const char *said, *gives;
} sentences[] = {
    {"strikes one more than it should since she turned it back for winter",
     "had hands_turned_back clocks_went_back, hours s+1, since hands_turned_back"},
    {"It strikes one too few at every hour.", "hours s-1"},
    {"At three it strikes two, at four three and at five four.", "3:00 s2, 4:00 s3, 5:00 s4"},
    {"At half past one it is silent.", "1:30 silent"},
    {"Won't stop striking until the weight is on the floor.",
     "seen weight_at_bottom, ? s* runs_on"},
    {"The clock is dead silent.", "any silent"},
    {"It strikes very slowly.", "any slow"},
    {"Every hour it strikes twelve, except that it's right at noon.", "hours s12, 12:00pm s="},
    {"It strikes twice at one o'clock.", "1:00 s2"},
    {"The hands stop at 28 minutes past each hour but the pendulum goes on.",
     "seen pendulum_on hands_stall, *:28 stop=hands"},
    {"Quarters are fine but no hour strike.",
     "hint quarters=all, seen quarters_right, quarters c=, hours s0"},
    {"Since the clocks went back it is an hour ahead.",
     "had clocks_went_back, hours s+1, since time_change"},
    {"The left weight doesn't move.", "seen left_weight_still"},
    {"The left weight does not go down, the others do.",
     "seen left_weight_still middle_weight_moves right_weight_moves"},
    {"It was never oiled.", "had never_serviced"},
    {"It was not moved.", "not-had moved_house"},
    {"Has not been moved house lately", "not-had moved_house"},
    {"We moved house in June and now it stops after a few minutes.",
     "had moved_house, seen clock_stops, ? stop=clock"},
    {"The tick is uneven.", "seen beat_uneven"},
    {"It chimes the wrong quarter.", "seen quarters_wrong, quarters c!"},
    {"At quarter past it plays the half hour tune.", "*:15 q2"},
    {"At 3:15 it played 3124, slowly.", "3:15 n3124 slow"},
    {"The chime keeps going on and on.", "? c* runs_on"},
    {"One note of the Westminster chime is missing at every quarter.",
     "hint chime=westminster quarters=all, quarters c! one_note_missing"},
    {"A note is missing from the chime.", "hint quarters=all, quarters c! one_note_missing"},
    {"A note of the Whittington chime is missing.",
     "hint quarters=all, quarters c! one_note_missing"},
    {"The last stroke of the hour is always missing.", "hours s-1"},
    {"It always leaves off the last blow.", "hours s-1"},
    {"The final bong is never struck.", "hours s-1"},
    {"The last bong of each quarter is missing.",
     "hint quarters=all, quarters c! last_note_missing"},
    {"At night it does not chime.", "seen silent_at_night_only"},
    {"It is silent after ten in the evening.", "seen silent_at_night_only"},
    {"Overnight it keeps quiet.", "seen silent_at_night_only"},
    {"It is silent at ten in the evening.", "10:00pm silent"},
    {"It went silent overnight.", "any silent, since sudden"},
    {"It gets slower and slower while striking twelve.", "12:00 slowing"},
    {"Slows down as it strikes twelve.", "12:00 slowing"},
    {"When it strikes twelve the hands show eleven.", "11:00 s12"},
    {"When the minute hand gets to about ten to it stops dead.",
     "seen clock_stops, *:50 stop=clock"},
    {"The hand reaches twenty past and stops.", "seen hands_stall, *:20 stop=hands"},
    {"The hands stop when they reach ten past.", "seen hands_stall, *:10 stop=hands"},
    {"When the minute hand gets to a quarter to it stops.", "seen clock_stops, *:45 stop=clock"},
    {"It makes a click just before the hour then nothing.", "seen warning_click_heard, hours s0"},
    {"There is no click before the hour.", "not-seen warning_click_heard"},
    {"You hear the hammers moving but hardly any sound.", "seen too_soft, any soft"},
    {"At half past the three quarter, on the hour it plays quarter past.", "*:30 q3, hours q1"},
    {"It plays the three quarter tune at half past.", "hint quarters=all, *:30 q3"},
    {"At 3:15 it plays half past.", "3:15 q2"},
    {"It strikes far too fast, rattles through them.", "any fast"},
    {"It rattles when it strikes.", "any buzz"},
    {"It hurries through the quarters.", "hint quarters=all, quarters fast"},
    {"Cuckoo calls but the door stays open.", "hint chime=cuckoo case=cuckoo, seen door_stuck"},
    {"Westminster plays but then the hour comes in with the chimes still playing.",
     "hint chime=westminster, quarters c., hours no_pause"},
    {"The hour starts before the chime has finished.", "hours no_pause"},
    {"Brought by removal men.", "had carriage"},
    {"It has not struck since we moved it.", "had moved_house, hours s0"},
    {"The chime is missing a note.", "hint quarters=all, quarters c! one_note_missing"},
    {"One of the notes of the Westminster chime does not sound.",
     "hint chime=westminster quarters=all, quarters c! one_note_missing"},
    {"The last of the strokes is missing.", "hours s-1"},
    {"It never strikes the full number.", "hours s!"},
    {"It strikes once too often.", "hours s+1"},
    {"It does not chime during the night.", "seen silent_at_night_only"},
    {"The chimes are silent at night.", "seen silent_at_night_only"},
    {"It is silent by day and by night.", "any silent"},
    {"It does not strike at night or by day.", "any silent"},
    {"It gets slower towards the end when it strikes eleven.", "11:00 slowing"},
    {"It always stops when the minute hand is at ten to.", "seen clock_stops, *:50 stop=clock"},
    {"The hammers work but it is very quiet.", "seen too_soft, any soft"},
    {"At half past it does the three quarter chime and at quarter to the hour chime.",
     "hint quarters=all, *:30 q3, *:45 q4"},
    {"The strike starts while it is still chiming.", "hours no_pause"},
    {"We carried it down from the loft.", "had moved_house"},
    {"The melody is missing its last note.", "hint quarters=all, quarters c! last_note_missing"},
    {"The hour strike is missing the last blow.", "hours s-1"},
    {"It chimes by day but not at night.", "seen silent_at_night_only"},
    {"It strikes when the minute hand is at five to.", "*:55 s. early for=hour"},
    {"It was taken down from the wall.", ""},
    {"We carried it upstairs.", "had moved_house"},
    {"Strikes 4 at 3:00, 5 at 4:00 and 6 at 5:00.", "3:00 s4, 4:00 s5, 5:00 s6"},
    {"Strikes three when the hands show four.", "4:00 s3"},
    {"It struck 13 at 1 pm.", "1:00pm s13"},
    {"About ten minutes before each hour I hear a click, then nothing.",
     "seen click_no_strike, *:50 click_only"},
    {"There is a click but it does not strike.", "seen click_no_strike, ? click_only"},
    {"It strikes the hour at half past.", "seen hours_at_half, halves s#"},
    {"Strikes once on the hour and the full count at half past.",
     "seen half_hour_on_hour, hours s1, halves s#"},
    {"The hour hand is loose.", "seen hour_hand_loose"},
    {"The minute hand rubs on the glass.", "seen hand_rubs"},
    /* what a part sounds like is told of every let-off; what befalls one let-off is not */
    {"There is no sound from the bird.", "hint chime=cuckoo case=cuckoo, any call_fails"},
    {"My mantel clock sounds dull.", "hint case=mantel, any dull"},
    {"The strike stalls half way.", "seen strike_stops_midway, ? stops_midway"},
    {"The cuckoo comes out but there is only one note of the call.",
     "hint chime=cuckoo case=cuckoo, seen one_call_note, any one_tone_call"},
    {"Gong without the cuckoo.", "hint chime=cuckoo case=cuckoo, any call_fails"},
    {"The bird is stuck.", "hint chime=cuckoo case=cuckoo, seen bird_stuck"},
    {"Hammer rests on the rod, it only thuds.", "seen hammer_rests, any thud"},
    {"One hammer sticks.", "seen hammer_stuck"},
    {"There is a buzzing sound.", "any buzz"},
    {"Each blow sounds twice, the hammer bounces.", "any double"},
    {"It is much too loud since we took the carpet up.",
     "had carpet_removed, seen too_loud, any loud"},
    {"It was cleaned three years ago.", "oil 3"},
    {"Last serviced about 12 years ago.", "oil 12"},
    {"It has not been serviced for 20 years.", "had many_years_since_cleaning, oil 20"},
    {"My grandson played with it.", "had children_touched"},
    {"The strike silent lever is at silent.", "seen silent_lever_at_silent"},
    {"The lever makes no difference.", "seen silent_lever_no_effect"},
    {"Suddenly it stopped striking.", "hours s0, since sudden"},
    {"It got slower and slower over the years.", "any slowing, since gradual"},
    {"Usually it is right but sometimes it strikes one too many.", "hours s+0(+1)"},
    {"Sometimes at six it strikes five.", "6:00 s5 often=sometimes"},
    {"It strikes anything from one to four.", "? s1/4"},
    {"It counts wrong only at some hours.", "seen only_some_hours, hours s! often=sometimes"},
    {"After seven it is wrong, before it is right.", ""},
    {"Between two and eight it strikes one too few.", "2:00-8:00/hours s-1"},
    {"From 9 to 1 it is right.", "9:00-1:00/hours s="},
    {"It runs down after a few days.", "seen runs_down_early"},
    {"The key turns without resistance after a loud bang.", "seen spring_feels_loose bang_heard"},
    {"The weights were swapped.", "had weights_swapped"},
    {"The chain came off.", "had chain_off, seen chain_loose"},
    {"It strikes five minutes early.", "*:55 s. early for=hour"},
    {"It strikes 10 minutes late.", "*:10 s. late for=hour"},
    {"The strike comes late, not always the same.",
     "seen strike_late_by_hand, hours s. late often=sometimes"},
    {"It does not strike the half hour.", "halves s0"},
    {"The clock stopped at ten to one.", "12:50 stop=clock"},
    {"It stopped between 8:10 and 8:30 and turning the hand back freed it.",
     "seen hand_back_frees, 8:10..8:30 stop=clock, did hand_back -> frees"},
    {"Left it standing for ten years in the attic.", "had stood_unused stood_for_years"},
    {"There is a grinding noise when it strikes.", "seen grinding, any grinding"},
    {"The last note of each quarter is missing.",
     "hint quarters=all, quarters c! last_note_missing"},
    {"The tune starts with the last note of the one before.",
     "hint quarters=all, quarters c! last_note_first"},
    {"At the hour the tune plays but no hour is counted.", "hours s0 c."},
    {"The third quarter is followed by silence at the hour.", "hours silent"},
    {"It only chimes on the hour.", "quarters silent not=hour"},
    {"Silent at the quarters but right on the hour.",
     "hint quarters=all, seen silent_until_hour, quarters c0 not=hour"},
    {"It comes right by itself after the hour.", "seen chime_corrects_itself"},
    {"At four, five and six it strikes twelve.", "4:00 s12, 5:00 s12, 6:00 s12"},
    {"Strikes twelve at four, five and six.", "4:00 s12, 5:00 s12, 6:00 s12"},
    {"It strikes right at twelve, one and two.", "12:00 s=, 1:00 s=, 2:00 s="},
    {"Two blows too many at ten o'clock.", "10:00 s+2"},
    {"The strike is fast like a machine gun.", "hours fast"},
    {"The fan is loose.", "seen fan_slips"},
    {"The strike stalls half way through the count.", "seen strike_stops_midway, ? stops_midway"},
    {"The oil is black and sticky.", "seen oil_dark"},
    {"I sprayed it with oil.", "had oiled oiled_freely"},
    {"The movers bent something.", "had carriage damaged_in_move"},
    {"It was fine in the workshop.", "seen works_in_shop"},
    /* clauses: the same things in any order, with other words between */
    {"The weight on the left has not moved an inch.", "seen left_weight_still"},
    {"It never budged an inch, the left hand weight.", "seen left_weight_still"},
    {"The melody does not correspond any more with the quarter.",
     "seen quarters_wrong, quarters c!"},
    {"The weight on the left should not have moved.", ""},
    /* asked, not told; but told along with a question, or by its answer */
    {"Is the rack worn?", ""},
    {"It keeps good time, but is the rope slipping?", "seen time_right"},
    {"Weights swapped?", ""},
    {"Has it been dropped? No.", "not-had dropped"},
    {"Weights swapped? Yes.", "had weights_swapped"},
    {"Is it normal that it strikes twice at one?", "1:00 s2"},
    /* what was tried, and what came of it */
    {"I tugged the chain and it went on.", "did pull_weight -> starts"},
    {"I wound it and it took fifteen turns.", "did wind -> took_turns"},
    {"I oiled it, no change.", "had oiled, did oil -> nothing"},
    {"I bent the hammer a touch, that was worse.", "had levers_touched, did bend_hammer -> worse"},
    {"I waited an hour and it came right.", "did wait_an_hour -> cured"},
    /* of another clock, or of a person */
    {"My neighbour's has three weights.", ""},
    {"Please excuse my English, the clock is French.", "hint origin=french"},
    {"Sounds like someone hitting a saucepan, that bong.", "any dull"},
    /* pairs of a time and a count */
    {"6 -> 7, 7 -> 8, 8 -> 9", "6:00 s7, 7:00 s8, 8:00 s9"},
    {"Three struck four, four five, five six.", "3:00 s4, 4:00 s5, 5:00 s6"},
    {"10:00 = 9 bongs, 11:00 = 9 bongs", "10:00 s9, 11:00 s9"},
    {"6pm-6, 7pm-7, 8pm-7", "6:00pm s6, 7:00pm s7, 8:00pm s7"},
    {"Hour 6.", ""},
    /* what is told of all gives way to what is told of one */
    {"The strike is right, but at four it strikes five.", "hours s= not=4:00, 4:00 s5"},
    {"It has stopped chiming but the hours are right.", "quarters silent, hours s="},
    {"It works by hand.", "seen works_by_hand, did trip_by_hand -> works"},
    {"It neither strikes nor chimes.", "quarters c0, hours s0"},
    {"The silent hours are wrong.", "seen silent_hours_wrong"},
    {"It's quiet by day and strikes at night.", "seen silent_by_day"},
    {"The tune selector stands between two tunes.", "seen selector_between"},
    {"Three weights, the middle one goes down.",
     "hint trains=3 winding_points=3 power=weight, seen middle_weight_moves"},
    {"A grandfather clock with three weights and westminster chimes, about 40 years old.",
     "hint trains=3 winding_points=3 power=weight chime=westminster years_old=40 case=tall"},
    {"Antique french clock with a count wheel.", "hint count=countwheel age=antique origin=french"},
    {"It strikes four at 3 and five at 4; six at five.", "3:00 s4, 4:00 s5, 5:00 s6"},
    {"Nothing was changed.", "since nothing_known"},
    {"xyzzy plugh", ""},
    {"It does not run on.", ""},
    {"The strike isn't slow.", ""},
    {"2am it strikes 2", "2:00am s2"},
    {"It strikes the hours perfectly but the half hours are missing.", "hours s=, halves s0"},
    {"One at two, two at three, three at four, nine at nine.",
     "2:00 s1, 3:00 s2, 4:00 s3, 9:00 s9"},
    {"Everything is fine except at half past one.", "any s= not=1:30"},
    {"Five at four, six at five.", "4:00 s5, 5:00 s6"},
    {"The strike keeps missing now and then.", "any s0 often=sometimes"},
    {"She set the hands back an hour and since then it strikes an hour ahead.",
     "had hands_turned_back, hours s+1"},
    {"The strike ran down first and since rewinding every hour is wrong.",
     "had strike_ran_down_first wound, hours s!, since winding"},
    {"It strikes correctly, but the minute hand stands five minutes past.",
     "seen minute_hand_points_off, hours s="},
    {"At ten past three it struck three.", "3:10 s3"},
    {"quarter to five: two phrases", "4:45 p2"},
    {"It says cuckoo three times at two", "hint chime=cuckoo case=cuckoo, 2:00 s3"},
    {"He wound it too tight", "had overwound"},
    {"The pendulum stopped.", "seen pendulum_stopped"},
    {"It keeps good time but loses its count.", "seen time_right, hours s!"},
    {"When I turn the hand slowly it works.", "seen works_by_hand"},
    {"At 12 it struck 12 but at 1 it struck 12 again.", "12:00 s12, 1:00 s12"},
    {"Chime plays at the wrong time.", ""},
    {"There is rust on the spring.", "seen rust"},
    {"The right weight stays up and no chimes.", "seen right_weight_still, quarters c0"},
    {"The bell sounds cracked.", "any cracked"},
    {"It strikes 3 or 4 at two.", "2:00 s3/4"},
    {"The clock loses ten minutes a day.", "seen loses_time"},
    {"The first blow is weak.", "any weak_first"},
    {"Hammers move but nothing is heard.", "seen hammers_move_silently"},
    {"Strikes perfectly when cold but worse when the room is warm.", "hours s="},
    {"The strike works for a while and then goes wrong.", "any wrong"},
    {"It used to be fine.", ""},
    {"Out of beat since it was dusted.", "had cleaned_case, seen beat_uneven"},
    {"He wound it too tight.", "had overwound"},
    {"It says cuckoo three times at two.", "hint chime=cuckoo case=cuckoo, 2:00 s3"},
    {"It loses five minutes a day.", "seen loses_time"},
    {"It strikes correctly, but the minute hand stands five minutes past the hour.",
     "seen minute_hand_points_off, hours s="},
    {"Three-train wall clock, key wound, strikes the wrong hour since my husband set the time.",
     "hint trains=3 case=wall winding=key, had hands_set, hours s!"},
    {"I took it apart and put it back together, now it strikes at quarter to.",
     "had self_repaired taken_apart parts_put_back, *:45 s."},
    {"The chime is one quarter behind.", "hint quarters=all, quarters q-1 phrase_behind"},
    {"Two notes are swapped in the tune.", "hint quarters=all, quarters c! notes_swapped"},
    {"It plays the wrong tune at the quarters but the hour is right.",
     "hint quarters=all, seen quarters_wrong, quarters c!, hours s="},
    {"The hour strikes before the tune is finished.", "hours no_pause"},
    {"There is a long pause between the tune and the hour.", "hours long_pause"},
    {"On the hour it plays the third quarter tune.", "hint quarters=all, hours q3"},
    {"The chimes stopped altogether.", "quarters c0"},
    {"The clock has been silent since Monday.", "any silent, since sudden"},
    {"No sound at night, as it should be.", "seen silent_at_night_only"},
    {"It always strikes well but now it strikes one too many at six.", "6:00 s+1"},
    {"The tune was right for years, and now it does not chime at all.", "any silent"},
    {"It was cleaned last year but now it strikes slowly.", "had cleaned, any slow"},
    {"It does not know when to stop.", "any runs_on"},
    {"At seven it struck eight, and at eight it then struck nine.", "7:00 s8, 8:00 s9"},
    {"At nine it stuck after four.", "9:00 s4 stops_midway"},
    {"It is silent from eleven in the evening until six in the morning.",
     "seen silent_at_night_only"},
    {"Now and then one of the halves is missed.", "halves s0 often=sometimes"},
    {"It goes wrong at no particular hour.", "seen not_repeatable"},
    {"One weight is heavier.", "seen weights_differ"},
    {"The hands agree with the telephone.", "seen time_right"},
    {"There is a whirr some minutes before the hour.", "seen whirr_before_hour"},
    {"It has done so since the children stayed here.", "had children_touched"},
    {"In October my aunt put it back one hour.", "had hands_turned_back clocks_went_back"},
    {"The bearings are scored.", "seen pivot_worn"},
    {"I found a brass ball at the bottom of the case.", "seen part_on_floor"},
    {"It only chimes if I nudge it.", "seen runs_when_touched"},
    {"At twelve it gets to nine and then stops.", "12:00 s9 stops_midway"},
    {"Half the melody is missing.", "quarters too_few_notes"},
    {"The final note is held over into the next quarter.",
     "quarters last_note_missing last_note_first"},
    {"It booms through the hall since we had the floor sanded.",
     "had new_house_floor, seen too_loud, any loud"},
    {"The hour hand swings about without the minute hand.", "seen hour_hand_loose"},
    {"It stops each time it wants to chime.", "seen clock_stops stops_before_hour, ? stop=clock"},
    {"The train was rebushed.", "had serviced part_replaced"},
    {"It is counted on both gongs.", "hours on_both"},
    {"The tune is right again after the next hour.", "seen right_after_hour"},
    {"We moved the hands past the hour too quickly.", "had hands_turned_forward_fast"},
    {"It is right in the morning but wrong at night.", "seen not_repeatable"},
    {"The lever arms are sluggish.", "seen levers_gummed"},
    {"The hammer falls short of the bell.", "seen hammer_misses"},
    {"He raised the lever to make it strike.", "had tripped_by_hand"},
    {"The chime goes round and round.", "any runs_on"},
    {"The click of the going barrel has gone.", "seen winding_slips"},
    {"It strikes the coming hour at the half.", "seen hours_at_half, halves s#"},
    {"The middle weight is on the floor.", "seen weight_at_bottom"},
    {"A weight touches the case.", "seen weight_against_case"},
    {"Since the power cut the church clock is silent.",
     "hint case=turret, had power_cut, any silent"},
    {"The spider was in the movement.", "had insects"},
    {"The pendulum touches the weights.", "seen pendulum_touches"},
    {"It gains ten minutes a week.", "seen gains_time"},
    {"The ship's clock strikes six bells at seven.",
     "hint half=count chime=shipbell case=ship, 7:00 s6"},
    {"It strikes eight at midnight and eight at noon.", "12:00am s8, 12:00pm s8"},
    {"It skips the half hour now and then.", "halves s0 often=sometimes"},
    {"The hour hand points to another hour than it strikes.", "seen hour_hand_disagrees"},
    {"The gong is loose and rattles.", "seen gong_loose, any buzz"},
    {"The warning can be heard five minutes before the hour.", "seen warning_click_heard"},
    {"The strike starts and then stops.", "seen strike_stops_midway, ? stops_midway"},
    {"After three blows it stops.", "seen strike_stops_midway, ? stops_midway"},
    {"The last blow is weak.", "any weak_last"},
    {"It strikes every other hour.", "other-hours s."},
    {"It strikes only at six.", "6:00 s., hours s0 not=6:00"},
    {"It fell off the wall.", "had dropped"},
    {"It got wet.", "had water"},
    {"The rack sticks.", "seen rack_sticks"},
    {"We heard a bang while winding.", "had wound, seen bang_heard, since winding"},
    {"Only the left side was wound.", "had wound_one_side_only"},
    {"It won't wind any further.", "seen spring_feels_tight"},
    {"The bellows are torn.", "hint chime=cuckoo case=cuckoo, seen bellows_torn"},
    {"The music does not play.", "seen music_silent"},
    {"The dancers do not turn.", "seen dancers_still"},
    {"The night silence is hours out.", "seen silent_hours_wrong"},
    {"The chimes are too quiet.", "seen too_soft, quarters soft"},
    {"It strikes the same number as before.", ""},
    {"Right at seven, wrong at eight.", "7:00 s=, 8:00 s!"},
    {"Both weights are at the top.", "seen all_weights_up"},
    {"The hammers are not free.", "not-seen hammers_free"},
    {"The quarters are not right.", "hint quarters=all, seen quarters_wrong, quarters c!"},
    {"It was not cleaned.", "not-had cleaned"},
    {"The beat is not even.", "seen beat_uneven"},
    {"The pendulum does not touch the weights.", ""},
    {"The weights are not at the bottom.", "not-seen weight_at_bottom"},
    {"My mantel clock chimes four times at three and five times at four.",
     "hint case=mantel, 3:00 s4, 4:00 s5"},
    {"Mr Dray says the grandfather clock on the landing has stopped striking, the time is fine.",
     "hint case=tall, seen time_right, hours s0"},
    {"At eleven last night it just kept on striking, must have been sixty or more.",
     "11:00 s* runs_on"},
    {"After the holiday we wound everything and now the half hour bong comes on the hour.",
     "had wound, seen half_hour_on_hour, hours s1"},
    {"The Westminster chime is a quarter behind, so at quarter past it plays what belongs to the "
     "hour.",
     "hint chime=westminster quarters=all, quarters q-1 phrase_behind, *:15 q4"},
    {"It bongs 7 at 6 o'clock, 8 at 7 o'clock and so on.", "6:00 s7, 7:00 s8"},
    {"When the big hand gets to twelve nothing happens, but five minutes later it strikes.",
     "*:05 s. late for=hour"},
    {"It chimes but never counts the hour.", "quarters c., hours s0"},
    {"Grandfather clock stopped at 11:58 three nights running.",
     "hint case=tall, 11:58 stop=clock"},
    {"At the hour it plays nothing and then strikes the right hour.", "hours s= c0"},
    {"Sometimes the melody slows right down.", "seen strike_slows_down, ? slowing often=sometimes"},
    {"It sounds muffled while the quarters ring clear.", "hint quarters=all, any dull"},
    {"The bird comes out but there's no sound, only the bird and a click of the door.",
     "hint chime=cuckoo case=cuckoo, any call_fails"},
    {"The cuckoo comes out and bows but makes no sound.",
     "hint chime=cuckoo case=cuckoo, any call_fails"},
    {"The clock stops every day at about five to one.", "seen clock_stops, ~12:55 stop=clock"},
    {"It runs for ten minutes and then stops.", "seen clock_stops, ? stop=clock"},
    {"The hammer seems to hit the gong and stay there.", ""},
    {"One of the four notes is missing.", "hint quarters=all, quarters c! one_note_missing"},
    {"The chime sounds tired.", ""},
    {"We had it cleaned in spring, it never struck right since.", "had cleaned, hours s!"},
    {"My wife moved the minute hand backwards past twelve.", "had hands_turned_back"},
    {"The left hand weight hasn't moved for a week.", "seen left_weight_still"},
    {"The strike weight is on the floor and it doesn't strike.", "seen weight_at_bottom, hours s0"},
    {"It strikes one at every hour, no matter what.", "hours s1"},
    {"It always strikes one less.", "hours s-1"},
    {"It strikes 12 at 1.", "1:00 s12"},
    {"It does the right hour but the quarters are all over the place.",
     "hint quarters=all, seen quarters_wrong, hours s=, quarters c!"},
    {"The chain slipped off the sprocket.", "had chain_off, seen chain_loose"},
    {"It's striking while the hands are at ten to.", ""},
    {"It warns but then does not strike.", "seen warning_click_heard, hours s0"},
    {"It used to strike on the hour, now it is 10 minutes late.", "*:10 s. late for=hour"},
    {"The striking is getting weaker.", "seen too_soft, any soft"},
    {"We cannot hear it any more.", ""},
    {"There's a rattle after each blow.", "any buzz"},
    {"The key just spins.", "seen spring_feels_loose"},
    {"Is it meant to be silent at night?", "seen silent_at_night_only"},
    {"It plays two tunes at once.", "hint quarters=all, quarters c! jumbled"},
    {"Only three notes instead of four.", "hint quarters=all, quarters too_few_notes"},
    {"It strikes twelve at noon but only one at midnight.", "12:00pm s12, 12:00am s1"},
    {"Sometimes it strikes 5 instead of 6.", "? s5 often=sometimes"},
    {"It strikes the half hours twice.", "halves s2"},
    {"When cold it stops striking.", "seen worse_when_cold, hours s0"},
    {"The last owner oiled it with sewing machine oil.", "had oiled"},
    {"The pendulum wobbles.", ""},
    {"Three at two, four at three, five, six.", "2:00 s3, 3:00 s4, 4:00 s5, 5:00 s6"},
    {"Three at two, four at three, nine.", "2:00 s3, 3:00 s4"},
    {"On the hour it strikes one. Half past is the same.", "hours s1, halves s1"},
    {"It chimes at quarter past, but on the hour nothing at all.", "*:15 s., hours silent"},
    {"At four we had two clocks.", ""},
    {"At four we had two.", "4:00 s2"},
    {"Sometimes it is wrong, six at five, then six at the half hour.", "5:00 s6"},
    /* parts of the dial */
    {"Right up to about three, then it sounds twelve at every hour until seven, when it is right "
     "again.",
     "7:00-3:00/hours s=, 4:00-6:00/hours s12"},
    {"It counts right until five, after that it is two short.",
     "1:00-5:00/hours s=, 6:00-12:00/hours s-2"},
    {"From eight on it strikes eight whatever the hour.", "8:00-12:00/hours s8"},
    {"Strikes seven at every hour from seven on; below seven the count is right.",
     "7:00-12:00/hours s7, 1:00-6:00/hours s="},
    {"After that it is two short.", "hours s-2"},
    {"Every hour is right but one, the eight, when there is just a whirr.",
     "seen whirr_no_blows, hours s= not=8:00, 8:00 whirr_only"},
    {"Six strikes seven, seven strikes eight.", "6:00 s7, 7:00 s8"},
    {"Strikes 4 for 3, 5 for 4.", "3:00 s4, 4:00 s5"},
    {"It does not strike on the half hour.", "halves s0"},
    /* what belongs together and what does not */
    {"The chime was slow and on Monday it stopped half way through the tune at six.",
     "seen strike_stops_midway, quarters slow, 6:00 stops_midway"},
    {"It strikes at random and sometimes jams.", "hours s! irregular, ? jams often=sometimes"},
    {"It strikes right, but sometimes it strikes the wrong number.",
     "hours s= often=mostly, hours s! often=sometimes"},
    {"The bell sounds dull, the count is right.", "hours s= dull"},
    {"Twelve bongs at every hour, every hour it strikes twelve.", "hours s12"},
    {"A wall clock, in fact a cuckoo.", "hint chime=cuckoo case=cuckoo"},
    {"A cuckoo clock on the wall.", "hint chime=cuckoo case=cuckoo"},
    {"It strikes the hour on a bell and plays a tune every quarter.",
     "hint quarters=all sounder=bell"},
    {"Bought at a sale, battery wound?", "had bought_used"},
    {"It strikes one too early.", "seen strike_early_by_hand, hours s. early"},
    {"Striking is right from one to five; from six on each hour comes out one short.",
     "1:00-5:00/hours s=, 6:00-12:00/hours s-1"},
    {"Strikes one less than it ought between seven and eleven.", "7:00-11:00/hours s-1"},
    {"The hour hand keeps coming loose and then the strike does not agree with it.",
     "seen hour_hand_loose, hours s!"},
};

static void sentences_give_what_they_say_and_no_more(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(sentences); i++) {
        struct sheet s;
        struct story story;
        struct text line = {0};
        read_story(sentences[i].said, &s, &story);
        sheet_print_shorthand(&s, &line);
        if (strcmp(text_cstr(&line), sentences[i].gives))
            fail_msg("\"%s\" gave \"%s\", expected \"%s\"", sentences[i].said, text_cstr(&line),
                     sentences[i].gives);
        text_release(&line);
        story_release(&story);
        sheet_release(&s);
    }
}

/* What was understood, what was of no use and what was not understood add up: parts stand in
 * order, do not overlap, and each says what it gave. */
static void check_parts(const struct story *story, size_t length)
{
    size_t before = 0;
    for (size_t i = 0; i < story->parts; i++) {
        const struct story_part *p = &story->part[i];
        assert_true(p->from >= before && p->from < p->to && p->to <= length);
        assert_true((p->kind == STORY_UNKNOWN) == (p->gives == NULL));
        before = p->to;
    }
}

static void expect_in(const struct phrases *p, const char *text, const char *wanted)
{
    struct sheet s;
    struct story story = {0};
    struct text line = {0};
    sheet_init(&s, words);
    assert_true(story_read(p, text, strlen(text), &s, &story, NULL));
    sheet_print_shorthand(&s, &line);
    assert_string_equal(text_cstr(&line), wanted);
    check_parts(&story, strlen(text));
    text_release(&line);
    story_release(&story);
    sheet_release(&s);
}

/* What no phrase has: words that name the same things near each other, and what keeps them from it. */
static void words_near_each_other_hint_at_what_is_meant(void **state)
{
    (void)state;
    static const struct {
        const char *said, *gives;
    } rows[] = {
        {"The bob grazes the back board.", "seen pendulum_touches"},
        {"The paddle slops on its spindle.", "seen fan_slips"},
        {"The paddle does not slop on its spindle.", ""},
        {"The paddle may be slopping on its spindle.", ""},
        {"Does the paddle slop on its spindle?", ""},
        {"The waltzers have not stirred.", "seen dancers_still"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        expect_in(phrases, rows[i].said, rows[i].gives);
}

/* They are told as what may be meant, and phrases come before them. */
static void what_words_hint_at_is_told_as_such(void **state)
{
    (void)state;
    static const char said[] = "It hangs on the wall. The bob grazes the back board.";
    struct sheet s;
    struct story story = {0};
    struct text account = {0};
    sheet_init(&s, words);
    assert_true(story_read(phrases, said, strlen(said), &s, &story, NULL));
    story_print(&story, said, &account);
    assert_non_null(strstr(text_cstr(&account),
                           "perhaps \"bob grazes the back board\" -> seen pendulum_touches"));
    assert_int_equal(story_count(&story, STORY_PERHAPS), 1);
    text_release(&account);
    story_release(&story);
    sheet_release(&s);
}

/* How what is said stands: what is denied, past, doubtful, still to come or taken back. */
static void only_what_is_so_goes_to_the_sheet(void **state)
{
    (void)state;
    static const struct {
        const char *said, *gives;
    } rows[] = {
        {"Somebody may have knocked it.", ""},
        {"I think it is rusty.", "seen rust"},
        {"I wonder whether the hammer is loose.", ""},
        {"It used to keep good time but now it loses a minute a day.", "seen loses_time"},
        {"The quarters were right until we moved house.", "hint quarters=all, had moved_house"},
        {"I can bring it round in the van.", ""},
        {"If I turn the hands back it frees itself.", "seen hand_back_frees"},
        {"I don't think it was ever dropped.", "not-had dropped"},
        {"It was never dropped or knocked.", "not-had dropped"},
        {"It was not dropped but knocked.", "had knocked, not-had dropped"},
        {"I can hear no tick.", "seen clock_stops, ? stop=clock"},
        {"No rust and it was dropped.", "had dropped, not-seen rust"},
        {"At four, no, five o'clock it strikes two.", "5:00 s2"},
        {"It struck eleven, I mean twelve, at noon.", "12:00pm s12"},
        {"At ten it gave 11 (correction: 10).", "10:00 s10"},
        {"The left weight has not moved, no, sorry, the right one.", "seen right_weight_still"},
        {"No, wait, the strike is late.", "seen strike_late_by_hand, hours s. late"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        expect_in(phrases, rows[i].said, rows[i].gives);
}

/* A word or two tell little by themselves. */
static void a_lone_word_needs_company(void **state)
{
    (void)state;
    static const struct {
        const char *said, *gives;
    } rows[] = {
        {"The middle weight goes down slowly.", "seen middle_weight_moves"},
        {"At three it strikes four, slowly.", "3:00 s4 slow"},
        {"The minute hand goes round too fast.", ""},
        {"It strikes too fast.", "any fast"},
        {"The hammer has no space at all to speak of.", "seen hammer_too_near"},
        {"The first note of the chime does not sound.", "quarters first_note_missing"},
        {"At eight and at nine, the same two every day, it is silent.",
         "seen same_hours_each_day, 8:00 silent, 9:00 silent"},
        {"At the half it strikes right.", "halves s="},
        {"It goes wrong at the quarters.", "hint quarters=all, quarters c!"},
        {"It goes like a machine with a missing tooth.", ""},
        {"Beat poss. uneven.", ""},
        {"At 1/2 past it strikes three.", "halves s3"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        expect_in(phrases, rows[i].said, rows[i].gives);
}

/* What callers say besides, with words of the trade in another sense. */
static void small_talk_gives_nothing(void **state)
{
    (void)state;
    static const char *const talk[] = {
        "We got in such a tangle with the buses this morning that I nearly gave up.",
        "My sister stands by her story, by the way.",
        "We are going to Vienna in the holidays.",
        "The phone line was crawling with noise when I rang before.",
        "Do not ring before nine, I am a slow starter in the morning.",
        "If I do not hear the door bell, knock on the window.",
        "My husband says you struck him as a sensible man.",
        "I can bring it in the truck or you can fetch it, either is fine.",
        "It looks lovely on the shelf beside the carriage lamp.",
        "Please do not strike us off your list.",
        "The mains water is off until Thursday.",
        "Mind the step, it is loose, and the dog barks but does not bite.",
        "We are both hard of hearing, so speak up when you call back.",
        "My eyes are weak and the light in the hall is poor.",
        "The weather has been so damp that the hedges are green.",
        "We are free on Monday at three or Wednesday after six.",
        "There were twelve of us at dinner and everyone noticed.",
        "The last man charged too much and I shall not call him again.",
        "It weighs a ton, so bring a second pair of hands.",
        "Nobody has called me back, which is why I am writing again.",
        "Ten minutes by car, or a quarter of an hour with traffic.",
        "I had three calls this morning and not one was from you.",
        "He fell off a ladder last spring and his back has never been right.",
        "The cat sleeps on the piano and nobody dares move her.",
        "My mobile goes dead every few hours, so try the house number.",
        "Our dog hides under the bench whenever a stranger comes.",
        "I dusted the hall specially, so you need not mind your shoes.",
        "We were looking for two seats and the roads were blocked.",
    };
    for (size_t i = 0; i < COUNT_OF(talk); i++)
        expect_in(phrases, talk[i], "");
}

static void every_case_story_gives_something(void **state)
{
    (void)state;
    DIR *dir = opendir("tests/cases");
    assert_non_null(dir);
    size_t cases = 0;
    for (struct dirent *d; (d = readdir(dir));) {
        char path[300];
        struct sheet written, s;
        struct story story;
        if (!strstr(d->d_name, ".yaml"))
            continue;
        snprintf(path, sizeof path, "tests/cases/%s", d->d_name);
        sheet_init(&written, words);
        assert_true(sheet_load(&written, path, NULL));
        read_story(written.story, &s, &story);
        bool something = s.heards || !word_set_empty(&s.seen) || !word_set_empty(&s.history);
        if (!something)
            fail_msg("nothing came of %s: %s", path, written.story);
        assert_true(story_count(&story, STORY_UNDERSTOOD) > story_count(&story, STORY_UNKNOWN));
        check_parts(&story, strlen(written.story));
        story_release(&story);
        sheet_release(&s);
        sheet_release(&written);
        cases++;
    }
    closedir(dir);
    assert_true(cases >= 49);
}

static void the_account_names_words_and_what_they_gave(void **state)
{
    (void)state;
    static const char text[] = "The zorgle hums; it strikes one too many since she turned it back "
                               "for winter. At three.";
    struct sheet s;
    struct story story;
    struct text account = {0};
    read_story(text, &s, &story);
    check_parts(&story, strlen(text));
    story_print(&story, text, &account);
    assert_string_equal(text_cstr(&account),
                        "not understood: \"zorgle hums\"\n"
                        "\"strikes one too many\" -> _hours s+1\n"
                        "\"since she turned it back\" -> had hands_turned_back, since "
                        "hands_turned_back\n"
                        "\"for winter\" -> had clocks_went_back\n"
                        "of no use: \"At three\" -> time 3:00\n");
    assert_string_equal(s.heard[0].said, "strikes one too many");
    assert_string_equal(s.story, text);
    assert_int_equal(story_count(&story, STORY_UNUSED), 1);
    text_release(&account);
    story_release(&story);
    sheet_release(&s);
}

static void a_negator_turns_facts_round_and_undoes_the_rest(void **state)
{
    (void)state;
    static const struct {
        const char *said, *gives;
    } rows[] = {
        {"The clock was not dropped.", "not-had dropped"},
        {"No rust.", "not-seen rust"},
        {"It was never dropped, but it was moved house.", "had moved_house, not-had dropped"},
        {"It is not slow, it was dropped.", "had dropped"},
        {"It has no rust and was dropped.", "had dropped, not-seen rust"},
        {"Not at three.", ""},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sheet s;
        struct story story;
        struct text line = {0};
        read_story(rows[i].said, &s, &story);
        sheet_print_shorthand(&s, &line);
        assert_string_equal(text_cstr(&line), rows[i].gives);
        text_release(&line);
        story_release(&story);
        sheet_release(&s);
    }
}

static void what_the_sheet_holds_already_is_kept(void **state)
{
    (void)state;
    struct sheet s;
    struct story story = {0};
    static const char before[] = "hint power=weight, not-seen rust, 1:00 s1";
    static const char text[] = "Spring driven, there is rust, strikes two at two.";
    struct text line = {0};
    sheet_init(&s, words);
    assert_true(sheet_parse_shorthand(&s, before, strlen(before), NULL));
    s.story = mem_copy_text("first");
    assert_true(story_read(phrases, text, strlen(text), &s, &story, NULL));
    sheet_print_shorthand(&s, &line);
    assert_string_equal(text_cstr(&line), "hint power=weight, not-seen rust, 1:00 s1, 2:00 s2");
    assert_string_equal(s.story, "first");
    assert_int_equal(story_count(&story, STORY_UNUSED), 2); /* the two that clash */
    text_release(&line);
    story_release(&story);
    sheet_release(&s);
}

static void bad_stories_are_refused(void **state)
{
    (void)state;
    struct err e = {0};
    struct sheet s;
    struct story story = {0};
    sheet_init(&s, words);
    assert_false(story_read(phrases, "strikes \xff two", 13, &s, &story, &e));
    assert_non_null(strstr(e.line[0], "story:1:9"));
    char *longest = mem_alloc(SHEET_TEXT + 2);
    memset(longest, 'a', SHEET_TEXT + 1);
    assert_false(story_read(phrases, longest, SHEET_TEXT + 1, &s, &story, &e));
    assert_non_null(strstr(e.line[1], "at most 20000"));
    assert_true(sheet_empty(&s) && !story.parts);
    err_release(&e);
    mem_free(longest);
    sheet_release(&s);
}

/* However it is cut, mixed or repeated: no crash, and what it gives is a sheet that prints. */
static void any_text_can_be_read(void **state)
{
    (void)state;
    struct text all = {0};
    for (size_t i = 0; i < COUNT_OF(sentences) && all.length < 3000; i++)
        text_addf(&all, "%s%s", sentences[i].said, i % 3 ? ", " : " ");
    for (size_t cut = 0; cut < all.length; cut += 293) {
        struct sheet s, back;
        struct story story = {0};
        struct text yaml = {0};
        sheet_init(&s, words);
        sheet_init(&back, words);
        assert_true(story_read(phrases, all.at + cut, all.length - cut, &s, &story, NULL));
        check_parts(&story, all.length - cut);
        sheet_print(&s, &yaml);
        struct err e = {0};
        if (!sheet_parse(&back, "t.yaml", text_cstr(&yaml), yaml.length, &e))
            fail_msg("%s", e.line[0]);
        assert_true(sheet_same(&s, &back));
        text_release(&yaml);
        story_release(&story);
        sheet_release(&s);
        sheet_release(&back);
    }
    text_release(&all);
}

static void words_are_split_as_the_header_says(void **state)
{
    (void)state;
    static const char text[] =
        "Won't strike: half-hour at 3:15pm, 2-8 (a.m.) \xe2\x80\x93 Schl\xc3\xa4ge! 6=7 :15 1-2-3";
    static const struct {
        const char *text;
        enum said_break before;
        long number;
        int minute;
    } want[] = {
        {"wont", SAID_JOINED, -1, -1}, {"strike", SAID_JOINED, -1, -1},
        {"half", SAID_SOFT, -1, -1},   {"hour", SAID_JOINED, -1, -1},
        {"at", SAID_JOINED, -1, -1},   {"3:15", SAID_JOINED, -1, 195},
        {"pm", SAID_JOINED, -1, -1},   {"2", SAID_SOFT, 2, -1},
        {"to", SAID_JOINED, -1, -1},   {"8", SAID_JOINED, 8, -1},
        {"am", SAID_SOFT, -1, -1},     {"schl\xc3\xa4ge", SAID_SOFT, -1, -1},
        {"6", SAID_STOP, 6, -1},       {"=", SAID_JOINED, -1, -1},
        {"7", SAID_JOINED, 7, -1},     {":", SAID_JOINED, -1, -1},
        {"15", SAID_JOINED, 15, -1},   {"1", SAID_JOINED, 1, -1},
        {"2", SAID_SOFT, 2, -1},       {"3", SAID_SOFT, 3, -1},
    };
    struct said s = {0};
    said_split(&s, text, strlen(text));
    assert_int_equal(s.count, COUNT_OF(want));
    for (size_t i = 0; i < COUNT_OF(want); i++) {
        assert_string_equal(s.word[i].text, want[i].text);
        assert_int_equal(s.word[i].before, want[i].before);
        assert_int_equal(s.word[i].number, want[i].number);
        assert_int_equal(s.word[i].minute, want[i].minute);
        assert_int_equal(s.word[i].sign, !strcmp(want[i].text, "=") || !strcmp(want[i].text, ":"));
    }
    said_release(&s);
}

/* A small table of another language: the reader knows no English. */
static const char german[] =
    "language: de\n"
    "numbers: {ein: 1, eins: 1, zwei: 2, drei: 3}\n"
    "filler: [die, uhr, es]\n"
    "negators: [nicht, kein]\n"
    "nouns: [schlag]\n"
    "joiners: [und, oder]\n"
    "units: [mal]\n"
    "repeats: {einmal: 1}\n"
    "classes: {schlagen: [schl\xc3\xa4gt, schlug]}\n"
    "times: [{say: \"halb <hour>\", min: -30}, {say: \"<hour> uhr\", min: 0}]\n"
    "phrases:\n"
    "  - {say: \"um <time>\", gives: \"time <time>\"}\n"
    "  - {say: \"@schlagen <n> [schl*]\", gives: \"_ s<n>\"}\n"
    "  - {say: \"umgezogen\", gives: \"had moved_house\"}\n"
    "signs: {\"=\": macht}\n"
    "unreal: soll\n"
    "former: \"fr\xc3\xbcher\"\n"
    "repairs: nein\n"
    "turns: [aber]\n"
    "pairs:\n"
    "  - {say: \"<time> macht <n>\", gives: \"<time> s<n>\"}\n"
    "clauses:\n"
    "  - {all: [zeiger, \"gedreht|gestellt\", \"zur\xc3\xbc"
    "ck\"], gives: \"had hands_turned_back\"}\n";

static void another_language_is_another_file(void **state)
{
    (void)state;
    struct err e = {0};
    struct phrases *p = phrases_parse("de.yaml", german, strlen(german), words, &e);
    if (!p)
        fail_msg("%s", e.line[0]);
    expect_in(
        p,
        "Um halb drei schl\xc3\xa4gt es nicht. Um drei Uhr schl\xc3\xa4gt zwei Schl\xc3\xa4ge, "
        "nicht umgezogen.",
        "not-had moved_house, 3:00 s2");
    expect_in(p,
              "Zur\xc3\xbc"
              "ck hat er den Zeiger gedreht",
              "had hands_turned_back");
    expect_in(p,
              "Er soll den Zeiger zur\xc3\xbc"
              "ck gedreht haben",
              "");
    expect_in(p,
              "Den Zeiger zur\xc3\xbc"
              "ck aber gedreht",
              "");
    expect_in(p,
              "Fr\xc3\xbc"
              "her schlug es um zwei Uhr drei.",
              "");
    expect_in(p, "Um zwei Uhr schl\xc3\xa4gt eins, nein, drei.", "2:00 s3");
    expect_in(p, "1 Uhr = 2, 2 Uhr = 3", "1:00 s2, 2:00 s3");
    expect_in(p, "1 Uhr = 2", "");
    assert_string_equal(phrases_language(p), "de");
    phrases_free(p);
}

static void bad_tables_are_refused_with_a_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *phrase, *said;
    } rows[] = {
        {"{say: \"(a\", gives: \"seen rust\"}", "not closed"},
        {"{say: \"a)\", gives: \"seen rust\"}", "not opened"},
        {"{say: \"[a]\", gives: \"seen rust\"}", "without a word"},
        {"{say: \"... [a]\", gives: \"seen rust\"}", "without a word"},
        {"{say: \"Don't\", gives: \"seen rust\"}", "small letters"},
        {"{say: \"<q>\", gives: \"seen rust\"}", "no such slot"},
        {"{say: \"@q\", gives: \"seen rust\"}", "no such class"},
        {"{say: \"((((((((((a))))))))))\", gives: \"seen rust\"}", "too deep"},
        {"{say: \"a\", gives: \"seen rost\"}", "did you mean rust?"},
        {"{say: \"a\", gives: \"_ s<n>\"}", "not every pattern"},
        {"{say: \"a|b <n>\", gives: \"_ s<n>\"}", "not every pattern"},
        {"{say: \"a [<m>]\", gives: \"time *:<less>\"}", "not every pattern"},
        {"{say: \"a\", gives: \"\"}", "empty"},
        {"{say: \"a\", gives: \"time soon\"}", "no time"},
        {"{say: \"a\", gives: \"often daily\"}", "often="},
        {"{say: \"a\", gives: \"_noon s1\"}", "no time"},
        {"{say: \"a\"}", "gives"},
        {"{say: [a, {b: c}], gives: \"seen rust\"}", "no text"},
        {"{says: \"a\", gives: \"seen rust\"}", "says"},
        {"]\nclauses: [{all: a, gives: \"seen rust\"}", "all is no list of 1 to 6 patterns"},
        {"]\nclauses: [{all: [], gives: \"seen rust\"}", "all is no list of 1 to 6 patterns"},
        {"]\nclauses: [{all: [a, b, c, d, e, f, g], gives: \"seen rust\"}", "1 to 6 patterns"},
        {"]\nclauses: [{all: [a, \"[b]\"], gives: \"seen rust\"}", "without a word"},
        {"]\nclauses: [{all: [a, b], gives: \"_ s<n>\"}", "no pattern of all fills"},
        {"]\nclauses: [{all: [a, b], gives: \"seen rost\"}", "did you mean rust?"},
        {"]\npairs: [{say: \"<time>\", gives: \"<time> s<n>\"}", "not every pattern"},
        {"]\npairs: [{say: \"<time> <n>\", give: \"<time> s<n>\"}", "give"},
        {"]\nsigns: [a", "signs is no map"},
        {"]\nsigns: {\"=\": \"A b\"}\nskips: [a", "stands for no word"},
        {"]\nunreal: \"(\"\nskips: [a", "not closed"},
        {"]\ncompany: \"(\"\nskips: [a", "not closed"},
        {"]\nendings: [a", "endings is no map"},
        {"]\nnarrows: [a", "narrows is no map"},
        {"]\nenders: [\"Not a word\"]\nskips: [a", "expected single words"},
        {"]\nbeliefs: [\"Not a word\"]\nskips: [a", "expected single words"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        char text[600];
        snprintf(text, sizeof text,
                 "language: x\nnumbers: {one: 1}\nrepeats: {}\nunits: []\nfiller: []\nnegators: "
                 "[]\nnouns: []\njoiners: []\n"
                 "classes: {}\ntimes: []\nphrases: [%s]\n",
                 rows[i].phrase);
        assert_null(phrases_parse("p.yaml", text, strlen(text), words, &e));
        assert_true(e.count > 0);
        if (!strstr(e.line[0], rows[i].said))
            fail_msg("%s gave: %s", rows[i].phrase, e.line[0]);
        err_release(&e);
    }
    struct err e = {0};
    assert_null(phrases_parse("p.yaml", "phrases: []", 11, words, &e));
    assert_true(e.count > 0);
    err_release(&e);
    phrases_free(NULL);
}

#ifdef __SANITIZE_ADDRESS__ /* everything takes several times as long */
#define MONOTONOUS 1500
#else
#define MONOTONOUS 6000
#endif

/* One and the same thing without end: read soon, whatever may stand between words. */
static void monotonous_stories_end_soon(void **state)
{
    static const char *const rows[] = {"a ", "the a ", "not ", "at four ", "strikes a the one ",
                                       ", ", "and "};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = {0};
        struct sheet s;
        struct story story = {0};
        while (t.length < MONOTONOUS)
            text_add(&t, rows[i]);
        sheet_init(&s, words);
        clock_t began = clock();
        assert_true(story_read(phrases, text_cstr(&t), t.length, &s, &story, NULL));
        assert_true(clock() - began < 20 * CLOCKS_PER_SEC); /* tenths, but for sanitizers */
        story_release(&story);
        sheet_release(&s);
        text_release(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sentences_give_what_they_say_and_no_more),
        cmocka_unit_test(words_near_each_other_hint_at_what_is_meant),
        cmocka_unit_test(what_words_hint_at_is_told_as_such),
        cmocka_unit_test(only_what_is_so_goes_to_the_sheet),
        cmocka_unit_test(a_lone_word_needs_company),
        cmocka_unit_test(small_talk_gives_nothing),
        cmocka_unit_test(every_case_story_gives_something),
        cmocka_unit_test(the_account_names_words_and_what_they_gave),
        cmocka_unit_test(a_negator_turns_facts_round_and_undoes_the_rest),
        cmocka_unit_test(what_the_sheet_holds_already_is_kept),
        cmocka_unit_test(bad_stories_are_refused),
        cmocka_unit_test(any_text_can_be_read),
        cmocka_unit_test(words_are_split_as_the_header_says),
        cmocka_unit_test(another_language_is_another_file),
        cmocka_unit_test(bad_tables_are_refused_with_a_sentence),
        cmocka_unit_test(monotonous_stories_end_soon),
    };
    return cmocka_run_group_tests(tests, load_tables, free_tables);
}
