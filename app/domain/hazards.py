"""What could hurt a patient or mislead a service through this program, what stands against each,
the tests that show it, and what is left to people. The list is our own."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Hazard:
    """`tests`: files under tests/, without the ending, or one test as `file::name`."""

    number: int
    title: str
    control: str
    left: str
    tests: tuple[str, ...]


HAZARDS = (
    Hazard(
        1,
        "The limits of another category are looked up",
        "The page names the category and how it was reached, and the neighbour near an edge. An "
        "unknown age is asked for; weight alone never says adult; every age reaches exactly one "
        "category, which is proved.",
        "Crews must know the patient's age, or say that they do not.",
        (
            "web/test_limits::test_an_unknown_age_is_asked_for_and_nothing_is_chosen",
            "web/test_limits::test_a_heavy_weight_never_means_adult",
            "domain/test_look_up::test_near_an_edge_the_category_across_it_is_named",
            "domain/test_patient_categories::test_a_scheme_is_proved",
            "journeys/test_crew::test_an_unknown_age_takes_one_tap_and_never_says_adult_by_itself",
        ),
    ),
    Hazard(
        2,
        "A policy that no longer holds is shown as the one in force",
        "Revision, signer and time stand on every page and paper. A phone says how old its copy "
        "is. A revision that was followed, withdrawn or has expired is shown with that word, never "
        "as current. Nothing can be signed while the clock is behind an earlier signature.",
        "A phone that has had no signal for long knows only that its copy is old.",
        (
            "journeys/test_crew_offline::test_a_revision_that_has_been_followed_is_never_shown_as_current",
            "journeys/test_crew_offline::test_an_old_copy_says_so",
            "web/test_limits::test_past_its_review_a_revision_says_that_it_has_expired",
            "web/test_limits::test_the_last_revision_is_shown_and_never_as_current",
            "faults/test_clock::test_a_revision_signed_while_the_clock_is_behind_would_not_hold_so_it_is_refused",
        ),
    ),
    Hazard(
        3,
        "Off, blank and not fitted are taken for each other",
        "They are states of their own, in the policy and in a reading, each with its word and "
        "shape. A blank cannot be signed; what was not read is never called conforming.",
        "Whoever reads a device must say which of them it was.",
        (
            "domain/test_comparison::test_states_are_compared_before_numbers",
            "domain/test_blank_cells",
            "web/test_policy_signing",
            "journeys/test_crew::test_off_is_a_word_and_a_shape",
        ),
    ),
    Hazard(
        4,
        "Units are mixed up",
        "A value is kept with its unit and converted once, exactly. A device's values are compared "
        "in the unit that its model shows. A number that fits another unit better is hinted at.",
        "A hint is no verdict: somebody looks at the device.",
        (
            "published/test_units",
            "domain/test_comparison::test_a_value_in_another_unit_conforms_where_it_is_the_signed_one_rounded",
            "domain/test_hints",
            "domain/rules/test_limits",
        ),
    ),
    Hazard(
        5,
        "Settings of the last patient are read as what the device starts with",
        "How the device was when it was read is asked for each time, with the minutes it was off. "
        "Only a reading at power-on, or after choosing the category, says what the next patient "
        "gets; one in use never clears a device.",
        "The reader must really switch it off for as long as the model needs.",
        (
            "domain/test_fleet::test_a_report_counts_where_nothing_was_left_from_the_last_patient",
            "domain/test_power_pauses",
            "actions/test_findings::test_a_reading_in_use_proves_nothing",
            "actions/test_findings::test_a_reading_after_too_short_a_pause_proves_nothing",
        ),
    ),
    Hazard(
        6,
        "Whoever reads a device sees first what it should hold",
        "No page of a reading holds a signed number. What deviates is asked again among others "
        "that match, without a word of what it was.",
        "The card in the cabin shows the numbers: the reader is not to look at it.",
        (
            "web/test_blind_demo::test_no_signed_number_of_any_preset_is_on_a_page_of_its_reading",
            "web/test_readings::test_what_deviates_is_asked_again_without_a_word_of_what_it_was",
            "domain/test_double_reading::test_two_alarms_that_matched_are_read_again_with_those_that_did_not",
        ),
    ),
    Hazard(
        7,
        "A device is put right before anybody wrote down what it held",
        "A look is locked when it is sent. A finding is corrected only after it was found and "
        "contained, and in quarantine only after its log is safe.",
        "Nobody can be kept from turning a knob first.",
        (
            "actions/test_readings::test_a_locked_look_is_never_changed",
            "actions/test_findings::test_no_step_is_left_out",
            "actions/test_quarantines::test_it_waits_for_the_log",
        ),
    ),
    Hazard(
        8,
        "A device passes although only part of it was read",
        "It holds only if every critical alarm of every preset was read, conforms, and is not "
        "older than the check interval. Everything else is not judged, and says so; it looks like "
        "neither good nor bad.",
        "What lies outside the critical alarms may still be unread.",
        (
            "actions/test_readings::test_what_deviates_waits_and_the_device_is_not_judged",
            "web/test_limits::test_the_label_of_an_unread_device_says_that_nothing_is_known",
            "domain/test_clearances",
            "domain/test_tide_wall",
        ),
    ),
    Hazard(
        9,
        "Checks made without signal are lost, doubled, out of order or at a wrong time",
        "Each is locked with a key and a number of its phone and sent until it is acknowledged; "
        "the same again changes nothing. The phone's clock is corrected by the server's, and "
        "both times are kept. A late check never replaces a newer one, and the service is killed "
        "in the middle by a program made for it.",
        "A phone that is lost takes with it what it had not sent.",
        (
            "actions/test_shift_checks::test_the_same_check_again_is_answered_the_same",
            "actions/test_shift_checks::test_a_number_of_a_phone_is_taken_once",
            "actions/test_shift_checks::test_a_wrong_clock_is_corrected_and_both_times_are_kept",
            "actions/test_shift_checks::test_an_older_check_that_comes_later_changes_nothing_that_is_known",
            "faults/test_killed::test_nothing_acknowledged_is_lost_when_the_service_is_killed",
        ),
    ),
    Hazard(
        10,
        "Two people edit or sign over each other",
        "Each change says which version it was made from; the second is told, and shown both. A "
        "signature is of a fingerprint. Of two who sign at once one is refused.",
        "Two drafts may still contradict each other: people must speak.",
        (
            "actions/test_at_once::test_of_two_who_edit_a_draft_one_is_told",
            "web/test_policy_conflicts",
            "faults/test_two_sign::test_the_same_revision_is_signed_once",
        ),
    ),
    Hazard(
        11,
        "A reading is written to another device",
        "A tag may end in a check character that notices one wrong character and nearly every "
        "swap; a code on the label opens the device itself; an unknown tag is refused with what "
        "may have been meant.",
        "Tags without a check character are taken as they are.",
        (
            "published/test_iso_7064",
            "domain/test_device_tags::test_a_wrong_check_character_helps_to_find_what_was_meant",
            "web/test_readings::test_a_tag_that_nobody_has_is_told",
        ),
    ),
    Hazard(
        12,
        "High limits are forgotten",
        "Both sides of every vital sign are rows of their own: an alarm that a policy does not "
        "mention is named, a blank blocks the signature, and a reading asks for both.",
        "An agency may choose to set no high limit; it must say so.",
        (
            "domain/rules/test_statements",
            "domain/test_blank_cells",
            "actions/test_readings::test_it_asks_for_everything_that_the_policy_states",
        ),
    ),
    Hazard(
        13,
        "The look-up is taken for advice about the patient",
        "Every screen and paper says that it is the agency's policy. Limits are written as alarms, "
        "below and above, never as a lone large number. No data of a patient are asked for.",
        "Local protocol and licensed judgement rule.",
        (
            "web/test_limits::test_the_limits_read_as_alarms_and_never_as_values",
            "web/test_limits::test_the_caution_stands_above_and_below",
            "exchange/test_paper_policy::test_every_page_has_caution_fingerprint_and_its_number",
            "journeys/test_crew_offline::test_a_birth_date_never_leaves_the_phone",
        ),
    ),
    Hazard(
        14,
        "The service is down when it is needed",
        "Phones answer without it after one visit. Pocket cards are printed, dated and called "
        "back. A backup is made while it runs, and coming back from it is tested; what it cannot "
        "help it says in words.",
        "Somebody must print the cards, make the backup and try the way back.",
        (
            "journeys/test_crew_offline::test_after_one_visit_every_look_up_works_without_signal",
            "web/test_cards::test_old_cards_are_called_back_until_somebody_has_them",
            "test_upkeep::test_a_backup_comes_back_as_it_was_and_proves",
            "faults/test_troubles",
        ),
    ),
)
