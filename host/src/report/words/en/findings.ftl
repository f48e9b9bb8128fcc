### English. Fields are those of the finding or of the call; a field in % or kg is a plain number.
### NUM($x, digits: 1), SIGNED, ABS write numbers; LESS_MORE($x) writes "12 % less", "3 % more" or "the same", THAN_USUAL($x) "12 % less than usual";
### PERCENT($p) writes a probability; DAY and LONG_DAY write dates.

## Forms
months = Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec
weekdays = Mon Tue Wed Thu Fri Sat Sun
form-day = D M
form-long_day = W D M Y
form-decimal = .
form-less = less
form-more = more
form-same = the same
form-than_usual = than usual
form-as_usual = as much as usual
form-under = under 1 %
form-over = over 99 %

## Legs, flags
leg-LF = LF
leg-RF = RF
leg-LR = LR
leg-RR = RR
leg-LF-name = left front
leg-RF-name = right front
leg-LR-name = left rear
leg-RR-name = right rear
place-both_front = both front legs
place-both_rear = both rear legs
place-unclear = leg not clear
flag-no_data = no data
flag-cannot_tell = cannot tell
flag-clear = clear
flag-watch = watch
flag-check = check
flag-urgent = URGENT
confidence-low = low
confidence-fair = fair
confidence-high = high

number-0 = { NUM($value, digits: 0) }
number-1 = { NUM($value, digits: 1) }
number-2 = { NUM($value, digits: 2) }
percent = { PERCENT($probability) }
day = { DAY($date) }
long-day = { LONG_DAY($date) }

## Counts
days = { $count ->
    [one] 1 day
   *[other] { $count } days
}
since-unclear = since when is not clear
since = since { DAY($day) }, { $days ->
    [0] today
    [one] 1 day
   *[other] { $days } days
}
since-between = since { DAY($day) } (between { DAY($earliest) } and { DAY($latest) }), { $days ->
    [0] today
    [one] 1 day
   *[other] { $days } days
}

## Why a cow has her flag
reason-no_trusted_passage = no usable passage so far
reason-not_seen = not seen { $days ->
    [one] since yesterday
   *[other] for { $days } days
}
reason-set_aside_by_weight = { $passages ->
    [one] 1 passage under her tag is not counted: { NUM($seen_kg) } kg
   *[other] { $passages } passages under her tag are not counted: { NUM($seen_kg) } kg
}, and she weighs { NUM($usual_kg) } kg. Whose tag was it?
reason-set_aside_by_loads = { $passages ->
    [one] 1 passage under her tag is not counted: the loads fit
   *[other] { $passages } passages under her tag are not counted: the loads fit
} her on no leg. Whose tag was it?
reason-tags_swapped = she and { $with } seem to wear each other's tags
reason-block_on = { $leg ->
    [none] a foot
   *[other] { $leg }
} has had a block { $days ->
    [0] since today
    [one] for 1 day
   *[other] for { $days } days
}. A block alone shifts load, so this pair is not judged.
reason-foot_work = { $days ->
    [0] feet worked on today
    [one] feet worked on yesterday
   *[other] feet worked on { $days } days ago
}: not settled yet
reason-share_low = takes weight off { $leg }: it carries { NUM($now_pct, digits: 1) } % of her weight, usually { NUM($usual_pct, digits: 1) } %
    .detail = { NUM($sd, digits: 1) } SD
reason-front_share = front legs carry { NUM($now_pct, digits: 1) } % of her weight, usually { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-peak_low = treads lighter on { $leg } when walking: compared with { $other } { LESS_MORE($now_pct) }, usually { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-front_peaks = front legs take { NUM($now_pct, digits: 1) } % of her load when walking, usually { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-time_short = keeps { $leg } on the ground for a shorter time: compared with { $other } { LESS_MORE($now_pct) }, usually { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-sway = sways { THAN_USUAL($change_pct) } on her { $pair ->
    [Front] front
   *[Rear] hind
} legs
    .detail = { SIGNED($sd, digits: 1) } SD
reason-pace = keeps her feet on the ground { THAN_USUAL($change_pct) }
    .detail = { SIGNED($sd, digits: 1) } SD
reason-shifts = shifts her weight { NUM($now_per_minute, digits: 1) } times a minute, usually { NUM($usual_per_minute, digits: 1) }
reason-lifts = lifts a leg { NUM($now_per_minute, digits: 1) } times a minute, usually { NUM($usual_per_minute, digits: 1) }
reason-drift = { $pair ->
    [Front] front
   *[Rear] hind
} legs have been loaded unevenly for days, more than is usual for her
    .detail = EWMA { SIGNED($value_sd, digits: 1) } SD, limit { NUM($limit_sd, digits: 1) }
reason-several_small = several small changes together
reason-as_when_sound = loads as when sound

## Treated cows
reason-block_end_not_reported = { $leg ->
    [none] a block
   *[other] the block on { $leg }
} was due off { $days ->
    [0] today
    [one] yesterday
   *[other] { $days } days ago
}. Is it still on? Until you say, this pair is not judged.
reason-more_than_treatment = { $leg ->
    [none] she takes far more weight off
   *[other] { $leg } loses far more load
} than a block or a trim explains. Call the veterinarian today.
advice-say_block = say whether the block is off
advice-call_vet = look at her feet today, with the veterinarian
course-block_end_not_reported = the block on { $leg } was due off on { DAY($due) }. Is it still on?
look_for-block_still_on = is the block still on? take it off and say so

## What would settle it
advice-tagged_passage = a passage with a tag read
advice-read_tag = read her tag by hand
advice-read_tags = read her tag and that of { $with } by hand
advice-recheck_foot = look at the treated foot; loads can be judged once the block is off
advice-wait_after_foot_work = look again a week or two after the work on her feet
advice-more_passages = { $passages } more passages, or a mobility score by eye: what is usual for her is not known yet
advice-lift_pair = lift both feet of the pair
advice-lift_foot = lift the foot
advice-next_days = the next two days' passages, or a mobility score by eye

## How a case is going
verdict-as_expected = as expected
verdict-slower_than_expected = slower than expected
verdict-worse = worse
verdict-another_leg_now = another leg now
verdict-block_probably_lost = block probably lost
verdict-cannot_tell_yet = cannot tell yet
course-too_early = the first { $days } days after the work are not judged
course-few_passages = fewer than { $passages } passages since the work has settled
course-other_leg_lower = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), { $treated } { LESS_MORE($treated_now_pct) }
course-sudden_step = the load of { $leg } changed suddenly on { DAY($since) }, while the block should be on; look at the other foot too
course-less_than_before = { $leg } now carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }); before the work { LESS_MORE($before_pct) }
course-carries = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) })
course-carries_other_low = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), but { $other } may be sore now
course-carries_restless = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), but she shifts her weight more than when sound: both feet may be sore
course-carries_blocked = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }); how much of that is the block is not known

## Rechecks
recheck-planned = as planned
recheck-usual_time = { $days } days after the work
recheck-block_time = { $days } days on
recheck-dressing_time = a dressing comes off after { $days } days
recheck-early_block_look = a block is looked at on days { $from } to { $to }
recheck-seen_worse = seen worse on { DAY($date) }: treat again, or the veterinarian
recheck-seen_same = seen the same on { DAY($date) }
recheck-block_wear = by the wear seen so far, between { DAY($earliest) } and { DAY($latest) }
recheck-course = the course of the case
look_for-lesion = { $claw ->
    [outer] outer claw:{" "}
    [inner] inner claw:{" "}
    [both] both claws:{" "}
   *[none] {""}
}{ $lesion }{ $zone ->
    [none] {""}
   *[other] {" "}in zone { $zone }
}
look_for-block_height = block still on, height left
look_for-block_off = take the block off
look_for-block_worn = block worn through; take it off
look_for-dressing_off = dressing off
look_for-other_foot = the other foot too
look_for-veterinarian = call the veterinarian if none has seen it

## Many cases
group-few_cows = fewer than { $cows } cows: too few to say anything of the group
group-more = the treated leg carried { ABS($change_pct) } % more of its usual load after than before ({ LESS_MORE($change_low_pct) } to { LESS_MORE($change_high_pct) }); without untreated cows beside them this does not say why
group-less = the treated leg carried { ABS($change_pct) } % less of its usual load after than before ({ LESS_MORE($change_low_pct) } to { LESS_MORE($change_high_pct) }); without untreated cows beside them this does not say why
group-no_change = no change that could be told from none; without untreated cows beside them this does not say why

## Lesions
lesion-AC = asymmetric claws
lesion-BU = bulb ulcer
lesion-CC = corkscrew claws
lesion-CD = concave dorsal wall
lesion-DD = digital dermatitis
lesion-DS = double sole
lesion-HF = horn fissure
lesion-HFA = axial horn fissure
lesion-HFH = horizontal horn fissure
lesion-HFV = vertical horn fissure
lesion-HHE = heel horn erosion
lesion-ID = interdigital dermatitis
lesion-IH = interdigital hyperplasia
lesion-IP = interdigital phlegmon
lesion-SC = scissor claws
lesion-SH = sole haemorrhage
lesion-SHC = circumscribed sole haemorrhage
lesion-SHD = diffuse sole haemorrhage
lesion-SU = sole ulcer
lesion-SW = swelling of coronet or bulb
lesion-TN = toe necrosis
lesion-TS = thin sole
lesion-TU = toe ulcer
lesion-U = ulcer
lesion-WL = white line disease
lesion-WLA = white line abscess
lesion-WLF = white line fissure

## What happened on a day
event-calved = calved
event-foot_work = foot work{ $leg ->
    [none] {""}
   *[other] {" "}{ $leg }
}{ $lesion ->
    [yes] , lesion
   *[no] {""}
}{ $block ->
    [yes] , block on
   *[no] {""}
}
event-block_on = block on
event-block_off = block off
event-scored = scored { $score }
event-told = another program told of lameness
