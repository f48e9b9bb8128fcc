## Cases, as entered and shown at the crush
field-date = day of the work
field-animal_id = cow
field-leg = leg
field-claw = claw
field-lesion = lesion
field-zone = zone
field-treatment = treatment
field-block_claw = block under
field-note = note
field-dd_stage = stage
field-severity = severity
field-block_material = block made of
field-block_height_mm = block height, mm
field-block_due = block due off
field-block_off = block off since
field-pain_relief = pain relief
field-prescribed_by = prescribed by
field-milk_withdrawal_end = last day no milk
field-meat_withdrawal_end = last day no meat
field-photo = photo
field-recheck = recheck
field-who = who
field-other = also done
field-withdrawn = withdrawn
case-column-case = Case
case-column-date = Date
case-column-cow = Cow
case-column-foot = Foot
case-column-lesion = Lesion
case-column-done = Done
case-column-block = Block
case-block-off = off { $date }
case-block-due = due off { $date }
case-withdrawn = withdrawn
case-withdrawn-why = Withdrawn: { $why }
case-own-scale = {" "}of 3 (fourplate's own scale)
case-worn = block worn through
case-look = { $date } looked at: { $seen }
case-correction = { $time } { $who }: { $field } was "{ $was }", now "{ $is }"
case-slip = A slip? fourplate case correct { $case } FIELD=VALUE
case-no-longer = Case { $case } no longer counts; it is kept.
case-counts = Case { $case } was not withdrawn; it counts.
case-counts-again = Case { $case } counts again; its withdrawal stays in its history.
case-correct-already = Nothing to correct: it is so already.
look-entered = Case { $case }, cow { $animal }: look of { $date } entered.
look-block-lost = The sore claw carries her again: a new block is a new case.
caution-worse = Caution: a foot that gets worse after treatment is for the veterinarian.
caution-veterinarian = Caution: call the veterinarian: phlegmon, a swelling above the hoof, deep tissue laid open or no weight on the leg is not for the trimmer alone.
caution-glue = Caution: block glue can hold isocyanates: gloves, air, and the label. Take the block off in time.
caution-withdrawal = Caution: milk and meat withdrawals are not both entered; the label or the veterinarian tells them.
entry-refused = Not entered: { $what }.
entry-note = Note: { $what }.
entry-odd = Odd: { $what }. Enter it all the same?
entry-say-yes = Not entered: { $what }. Say --yes if it is so.
entry-missing = Not entered: say { $what }.
entry-not-corrected = Not corrected: { $what }.
entry-taken-in = line { $line }: { $what }; taken in as it is
entry-there = This is entered already.
missing-leg = which leg (all: nothing to tell of one)
missing-claw = which claw, and the lesion (none: no lesion)
missing-lesion = the lesion (none: no lesion)
ask-leg = Leg: LF RF LR RR (empty: all feet, no lesion)
ask-lesion = Lesion: code or your words (?: codes, empty: none)
ask-codes-else = Anything else in more letters.
ask-claw = Claw: o outer, i inner, b both
ask-zone = Zone 0 to 12 (empty: not noted)
ask-stage = Stage: M0 M1 M2 M3 M4 M4.1 (empty: not noted)
ask-done = Also done: h loose horn off, d drained, w dressing (empty: trim only)
ask-block = Block under the { $claw ->
    [inner] inner
   *[outer] outer
} claw: mm high (0: not measured, empty: no block)
ask-pain_relief = Pain relief: who prescribed it (empty: none given)
ask-milk_withdrawal_end = Last day of milk withdrawal, YYYY-MM-DD, from the label (empty: not known yet)
ask-meat_withdrawal_end = Last day of meat withdrawal, YYYY-MM-DD, from the label (empty: not known yet)
ask-seen-block = Block: on, lost, off (taken off now; empty: not looked)
ask-seen-height = Its height now, mm (empty: not measured)
ask-seen-course = Foot: h healed, i improving, s same, w worse (empty: not looked)

## The visit
visit-question-mark = ? shows what can be written.
visit-nobody-named = Nobody is named as the trimmer: visit --who NAME.
visit-which-cow = Cow
visit-unknown-cow = No cow { $cow } is known here; { $cow }! keeps what you say until she is.
visit-odd = Odd: { $what }. The same line with ! at its end if it is so.
visit-no-case = Not entered: no case at { $leg } is known of her.
visit-nothing-yet = Nothing was entered yet in this visit.
visit-nothing-more = Nothing more was entered in this visit.
visit-corrected = Corrected: { $summary }
visit-look-undone = That look no longer counts.
visit-help = A line is one foot: leg, claw, lesion, what was done.
    {"  "}lro wla dbi      LR outer, white line abscess; drained, block under the inner claw
    {"  "}LR outer white line abscess, drained, block inner      the same in words
    {"  "}rr i su 4 bo 20mm s2     sole ulcer in zone 4, block of 20 mm, severity 2 of 3
    {"  "}lf none          no lesion; all: every foot trimmed, nothing to tell of one
    {"  "}'own words' in quotes are a lesion without a code, or a note after the lesion
    Done: h loose horn off, d drained, w dressing, bo bi b block. Also FIELD=VALUE.
    Later look: lr on 12mm same, lr off healed (block on, lost, off; healed,
    {"  "}improving, same, worse).
    Empty line: next cow. back, undo, correct FIELD=VALUE, sheet, codes, end.
    ! at the end of a line: it is odd, and so.

## A mark
mark-died = Died
mark-lent = Away
mark-told = Told by another program
mark-back = Back
marked = { $animal }: { $mark }, { $date }.
marked-already = { $animal }: { $mark } was said for { $date } already.
mark-taken-away = { $animal }: { $mark } on { $date } no longer holds.
mark-not-there = { $animal }: { $mark } was not said for { $date }; nothing was taken away.

## How cases went
outcomes-group = { $cases ->
    [one] 1 case
   *[other] { $cases } cases
}, { $measured } seen to carry clearly less before
outcomes-back = back to normal by day { $day }: { $back } of { $of }{ $part }
outcomes-part = {" "}= { NUM($part) } % ({ NUM($low) } to { NUM($high) })
outcomes-others = all others by day { $day }: { $back } of { $of }{ $odds }, Fisher p { $p }
outcomes-odds = , odds ratio { NUM($odds, digits: 1) } ({ NUM($low, digits: 1) } to { NUM($high, digits: 1) })
outcomes-half = half were back by day { NUM($days) }
outcomes-relapses = relapses: { $count }
outcomes-lane-first = flagged by the lane before a person did: { $first } of { $recorded }{ $gained }
outcomes-gained = , median { NUM($days) } days sooner
outcomes-not-back = day { NUM($day) }: not yet back to normal { $part } ({ $low } to { $high }), { $watched } watched
outcomes-block-kept = day { NUM($day) }: block still on { $part } ({ $low } to { $high }), { $watched } watched
outcomes-none = No cases yet.
outcomes-trials = Published trials, for context only (other cows, other definitions of recovery):
outcomes-trial-new = Newly lame, claw horn lesions, score 0 at day 35: trim 11/45, with block 14/39, with pain relief 12/42, with both 23/41 (Thomas 2015, J Dairy Sci). Counting milder scores as cured moves trim alone from 24 to 69 %.
outcomes-trial-old = Lame for more than two weeks, not lame at day 42: 15, 15 and 16 % whatever was done; 38 % were lame on the other leg of the pair (Thomas 2016, Vet Rec 178:116).
outcomes-trial-first = First lactation, day 28: 15/20 with trim, block and pain relief, 6/15 with trim alone (Sadiq 2022, Front Vet Sci).
outcomes-caution = These are counts of what happened, not of what a treatment did: who got which was no draw of lots.
change-title = Load of the treated leg, % of her usual, after less before (the block's effect taken out; cows with several cases count once)
change-group = { $cases ->
    [one] 1 case
   *[other] { $cases } cases
} of { $cows ->
    [one] 1 cow
   *[other] { $cows } cows
}
change-line = { SIGNED($change_pct, digits: 1) } ({ SIGNED($low, digits: 1) } to { SIGNED($high, digits: 1) }); one cow's change tells from { NUM($detectable_pct) } on
change-none = No case has passages after it yet.

## Scoring
rescore-none = No passages to score. Bring in readings or passages with `fourplate import`.
rescore-done = { NUM($rows) } cow-days scored, the last on { $last_day }.
rescore-day = That day: { $urgent } urgent, { $check } check, { $watch } watch, { $clear } clear, { $cannot_tell } cannot tell, { $no_data } no data.
rescore-learned = Probabilities rest on { $scores_learned_from } scores of the farm and { $lifted_feet_learned_from } cows with lifted feet (weight { NUM($farm_link_weight, digits: 2) } against the published figures).

## What stands against an entry
against-work_in_future = the day of the work is in the future
against-block_on_sore_claw = the block is on the sore claw; it belongs under the sound one
against-block_on_other_lesion = the block is on a claw with another lesion found that day
against-lesion_without_leg = a lesion needs its leg
against-block_without_leg = a block needs its leg
against-recheck_not_after = the recheck is not after the work
against-block_due_before = the block is to come off before it was put on
against-block_off_before = the block came off before it was put on
against-block_off_in_future = the block came off in the future; the day it is due is block_due
against-stage_without_dermatitis = an M stage belongs to digital dermatitis (DD)
against-withdrawal_before = a withdrawal ends before the treatment
against-look_in_future = the day of the look is in the future
against-look_before = the look is before the treatment
against-case_withdrawn = this case was withdrawn
against-nothing_told = nothing was told: the block, its height, the course or a note
against-no_block_here = no block was put on in this case
against-leg_or_lesion_missing = say which leg, and the lesion or that there is none
against-claw_missing = say which claw the lesion is in
against-field_wrong = { $field }: "{ $text }" cannot be so
against-entered_already = the same foot, claw, zone and lesion is already entered for that day
against-block_still_on = that foot still has a block on
against-no_code = "{ $text }" is no lesion code{ $code ->
    [none] {""}
   *[other] ; { $code } is { $lesion }
}
against-unusual_zone = { $lesion } in zone { $zone } is unusual
against-block_for_veterinarian = a block on a foot that is for the veterinarian (phlegmon, a swelling above the hoof, or severe)
against-withdrawal_missing = a medicine was given, but not until when { $milk ->
    [yes] { $meat ->
        [yes] milk and meat
       *[no] milk
    }
   *[no] meat
} must not go out; the label or the veterinarian tells
against-prescriber_missing = pain relief was given, but not who prescribed it
against-unusual_block = a block of { NUM($height_mm) } mm is unusual
against-long_ago = { LONG_DAY($date) } is long ago
against-zone_without_lesion = a zone without a lesion
against-block_grown = the block has grown from { NUM($before_mm) } to { NUM($now_mm) } mm
against-block_entered_off = the block is entered as off since { LONG_DAY($date) }
against-unknown_cow = no cow { $cow } is known here; it is kept, and counts once she is named
