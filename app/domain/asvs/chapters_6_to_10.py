"""Who somebody is, how long it holds, and what they may do."""

from app.domain.asvs.requirements import Row

_NO_OAUTH = "No OAuth or OpenID Connect, as client or as server."
ROWS: tuple[Row, ...] = (
    ("V6.1", "Authentication Documentation", """
1 | m | The manual tells how guessing is slowed, and that nobody can be locked out for good. | web/test_manual domain/test_throttling
2 | m | The username, the name, and the names of the agency and of the service are refused; the manual says so. | domain/test_passwords::test_what_many_use_and_what_lies_near_is_refused web/test_manual
3 | m | There is one way in for people, one for programs, one for a crew's look-up; each is described. | web/test_manual api/test_tokens
"""),
    ("V6.2", "Password Security", """
1 | m | At least 12 characters. | domain/test_passwords::test_length_counts_and_composition_does_not
2-3 | m | Everybody changes their own, and is asked for the old one. | web/test_account::test_the_password_is_changed_and_other_sessions_end web/test_account::test_a_wrong_password_is_told_at_its_field_and_never_comes_back
4 | m | The 30,000 most common are refused. | actions/test_accounts::test_a_password_that_will_not_do_changes_nothing web/test_account::test_a_password_of_many_is_told_why
5 | m | No rule of composition. | domain/test_passwords::test_length_counts_and_composition_does_not
6-7 | m | Password fields are of that type and take what is pasted. | web/test_front
8 | m | The password is hashed as it came. | actions/test_sign_ins
9 | m | Up to 200 characters. | domain/test_passwords::test_length_counts_and_composition_does_not
10 | m | Nothing makes a password expire. | actions/test_sign_ins
11 | m | Words of the agency and of the service are refused. | domain/test_passwords::test_what_many_use_and_what_lies_near_is_refused
12 | m | The 30,000 found most often where passwords leaked come along; a whole list of leaked ones is looked up where the operator gives one, and nobody outside is asked. | exchange/test_leaked_passwords web/test_account::test_a_leaked_password_is_told_at_its_field web/test_account::test_a_leaked_password_is_not_set_by_a_link_nor_at_the_first_start
"""),
    ("V6.3", "General Authentication Security", """
1 | m | Failures slow the account and the address. | actions/test_sign_ins::test_after_five_failures_even_the_right_password_waits actions/test_sign_ins::test_an_address_that_tries_many_accounts_is_slowed_too
2 | m | There is no account until somebody makes the first with a link that works once. | actions/test_people::test_the_link_works_once_and_for_a_day
3 | o | One factor only.
4 | m | Every address is walked by a stranger. | access/test_roles web/test_every_address api/test_api
"""),
    ("V6.4", "Authentication Factor Lifecycle and Recovery", """
1 | m | There is no first password: a random link, which works once and for three days. | actions/test_invitations::test_the_link_sets_the_password_once actions/test_invitations::test_it_works_until_its_end_and_not_at_it
2 | m | No hints and no secret questions. | web/test_front
3 | m | An administrator makes a link and never knows the password; its use ends every session and stands in the ledger. | actions/test_invitations::test_a_lost_password_works_until_the_link_is_used_and_then_all_sessions_end actions/test_invitations::test_the_ledger_tells_both_moments_and_no_secret
4 | n | There is no second factor to lose.
"""),
    ("V6.5", "General Multi-factor authentication requirements", "1-5 | n | There is no second factor yet; see V6.3.3."),
    ("V6.6", "Out-of-Band authentication mechanisms", "1-3 | n | None is used."),
    ("V6.8", "Authentication with an Identity Provider", "1-4 | n | None is used."),
    ("V7.1", "Session Management Documentation", """
1 | m | Twelve hours at most and one hour idle, both settings; NIST SP 800-63B asks the same order of a second level. | house/test_settings_documented web/test_sessions
2 | m | The number of sessions of one person is not bounded, and the manual says so: each is listed to its owner, and can be ended. | web/test_account::test_sessions_are_listed_and_ended_one_by_one web/test_manual
3 | n | Nothing is federated.
"""),
    ("V7.2", "Fundamental Session Management Security", """
1-2 | m | The cookie is a random token, looked up at each request. | web/test_sessions::test_a_made_up_cookie_is_nobody
3 | m | 256 random bits; only their digest is stored. | actions/test_sign_ins::test_the_token_itself_is_not_stored
4 | m | Each sign-in makes a new token; none is taken from the browser. | actions/test_sign_ins
"""),
    ("V7.3", "Session Timeout", """
1 | m | An idle session ends. | web/test_sessions::test_an_idle_session_ends
2 | m | So does a busy one, after its hours. | actions/test_sign_ins::test_it_ends_after_its_hours_however_busy
"""),
    ("V7.4", "Session Termination", """
1 | m | Signing out ends the session itself. | web/test_front::test_signing_out_ends_the_session_itself_not_just_the_cookie
2 | m | A closed account ends every session, and every link to set its password. | actions/test_accounts::test_a_closed_account_is_out_everywhere_and_stays_out web/test_account::test_one_closes_one_s_own_account_by_the_password
3 | m | A new password ends every other session. | actions/test_accounts::test_a_new_password_ends_every_other_session
4 | m | The way out stands on every page. | web/test_render
5 | m | An administrator ends every session of somebody. | web/test_account::test_an_administrator_signs_somebody_out_everywhere
"""),
    ("V7.5", "Defenses Against Session Abuse", """
1 | m | A change of the password asks for the old one; roles are only an administrator's to give. | web/test_account::test_a_wrong_password_is_told_at_its_field_and_never_comes_back
2 | m | One's sessions are listed on the account page, and ended by the password. | web/test_account::test_every_other_session_is_ended_at_once actions/test_accounts
"""),
    ("V7.6", "Federated Re-authentication", "1-2 | n | Nothing is federated."),
    ("V8.1", "Authorization Documentation", """
1-2 | m | One table says which role may do what; the manual shows the moves of a revision with their roles. | web/test_manual domain/test_moves
"""),
    ("V8.2", "General Authorization Design", """
1 | m | Each change asks the table first. | access/test_roles web/test_every_address api/test_api actions/test_findings::test_who_works_on_findings
2 | m | Everything is looked up within the person's own agency. | web/test_every_address::test_another_agency_is_not_found_whatever_the_role
3 | m | What a blind reader must not see is not in the page. | web/test_blind_demo
"""),
    ("V8.3", "Operation Level Authorization", """
1 | m | Decided on the server, in the action itself. | web/test_every_address actions/test_people::test_nobody_else_adds_people
"""),
    ("V8.4", "Other Authorization Considerations", """
1 | m | Of another agency there is nothing to find, whatever the role. | web/test_every_address::test_another_agency_is_not_found_whatever_the_role storage/test_agency_rows
"""),
    ("V9.1", "Token source and integrity", "1-3 | n | No token carries its own content: all are looked up."),
    ("V9.2", "Token content", "1-4 | n | No token carries its own content: all are looked up."),
    ("V10.1", "Generic OAuth and OIDC Security", f"1-2 | n | {_NO_OAUTH}"),
    ("V10.2", "OAuth Client", f"1-2 | n | {_NO_OAUTH}"),
    ("V10.3", "OAuth Resource Server", f"1-4 | n | {_NO_OAUTH}"),
    ("V10.4", "OAuth Authorization Server", f"1-11 | n | {_NO_OAUTH}"),
    ("V10.5", "OIDC Client", f"1-5 | n | {_NO_OAUTH}"),
    ("V10.6", "OpenID Provider", f"1-2 | n | {_NO_OAUTH}"),
    ("V10.7", "Consent Management", f"1-3 | n | {_NO_OAUTH}"),
)  # fmt: skip
