"""Cryptography, the network, settings, data, code, logs."""

from app.domain.asvs.requirements import Row

_NO_RTC = "No WebRTC."
ROWS: tuple[Row, ...] = (
    ("V11.1", "Cryptographic Inventory and Documentation", """
1 | n | The service holds no key: passwords and tokens are digests; keys of HTTPS are the proxy's.
2 | m | Argon2id for passwords, SHA-256 for tokens, fingerprints and the ledger, random bytes of the system. The manual says so. | web/test_manual
"""),
    ("V11.2", "Secure Cryptography Implementation", """
1 | m | The standard library and pwdlib's Argon2. | house/test_dependencies
2 | o | A stored password says by which parameters it was made; a new hash of the ledger would need a new chain, for which there is no form yet.
3 | m | 256 bits throughout. | domain/test_ledger actions/test_sign_ins
"""),
    ("V11.3", "Encryption Algorithms", "1-3 | n | The service encrypts nothing itself; the disk and HTTPS do."),
    ("V11.4", "Hashing and Hash-based Functions", """
1 | m | SHA-256 only. | domain/test_ledger published/test_rfc8785_vectors
2 | m | Argon2id with the library's recommended parameters. | actions/test_sign_ins
3 | m | SHA-256 for fingerprints and for the chain. | domain/test_ledger
4 | n | No key is made of a password.
"""),
    ("V11.5", "Random Values", """
1 | m | Tokens are 32 bytes from the system's generator. | actions/test_sign_ins::test_the_token_itself_is_not_stored
"""),
    ("V11.6", "Public Key Cryptography", "1 | n | None is used."),
    ("V12.1", "General TLS Security Guidance", """
1-2 | o | HTTPS is the proxy's. The manual's example leaves its safe defaults; no test shows them.
3 | n | No client certificates.
"""),
    ("V12.2", "HTTPS Communication with External Facing Services", """
1 | o | The self-test calls it wrong to listen beyond this machine without HTTPS; that every visitor uses it is the proxy's to see to. | domain/test_selftest
2 | o | The certificate is the operator's.
"""),
    ("V12.3", "General Service to Service Communication Security", """
1-2 | o | The connection to PostgreSQL is as its address says: sslmode=verify-full is advised in the manual and not demanded.
3-4 | n | No services of one installation speak HTTP with each other.
"""),
    ("V13.1", "Configuration Documentation", """
1 | m | It listens on one address and speaks with one database; nothing else. | web/test_manual
"""),
    ("V13.2", "Backend Communication Configuration", """
1 | o | The database is opened with a password or by the local socket, as the operator chooses.
2 | m | The service needs a user that owns its own database and nothing else. | storage/test_migrating
3 | m | There is no default credential. | test_settings
4-5 | m | It calls nobody, so nothing is allowed. | house/test_templates::test_nothing_is_fetched_from_elsewhere
"""),
    ("V13.3", "Secret Management", """
1-2 | o | The two secrets, in the database's address and for /metrics, come from the environment; systemd can load them from a protected file, as the manual shows.
"""),
    ("V13.4", "Unintended Information Leakage", """
1 | m | A wheel holds what is needed and nothing else. | house/test_packaging
2 | m | No debug mode; a failure is told without its insides. | web/test_errors::test_our_failure_is_told_without_its_insides_and_loses_nothing
3 | m | No listing of files. | web/test_render
4 | m | A method that no route has is refused. | web/test_errors::test_a_wrong_method_says_which_are_right
5 | m | Counts need a token; the description of the API is open on purpose. | web/test_watching
"""),
    ("V14.1", "Data Protection Documentation", """
1-2 | m | Patients: none, ever. People at work: name, username, role, what they did. Secrets: digests only. The manual says which is kept how long. | web/test_manual web/test_blind_demo
"""),
    ("V14.2", "General Data Protection", """
1 | m | No token and no password stands in an address, but in the link that works once. | web/test_journal::test_nothing_secret_is_written
2 | m | Pages are not to be kept; what the service keeps in memory is the open look-up alone. | web/test_security::test_pages_are_not_kept_by_browsers web/test_kept_pages
3 | m | Nothing is sent to anybody else. | house/test_templates::test_nothing_is_fetched_from_elsewhere
4 | m | A birth date never leaves the phone; logs hold no secret. | journeys/test_crew_offline::test_a_birth_date_never_leaves_the_phone domain/test_redaction
"""),
    ("V14.3", "Client-side Data Protection", """
1 | o | Signing out does not clear what a crew's phone has queued: it must not be lost.
2 | m | no-store on every page that is not the open look-up. | web/test_security::test_pages_are_not_kept_by_browsers
3 | m | A phone keeps the open policy and the checks it has yet to send. | journeys/test_crew_offline
"""),
    ("V15.1", "Secure Coding and Architecture Documentation", """
1 | o | How soon a library with a known fault is replaced is the operator's to decide; nothing is written down.
2 | m | Every library is declared with its reason and the whole tree is pinned. | house/test_dependencies
3 | m | What takes long is known: files, re-audit, papers, replay. Large files and large fleets are done outside requests, and the manual says how. | web/test_manual jobs/test_doing jobs/test_queue
"""),
    ("V15.2", "Security Architecture and Dependencies", """
1 | o | Follows V15.1.1.
2 | m | What is long is done by a process of its own; files are read before anything is locked; a writer waits ten seconds at most and is then told. | faults/test_troubles actions/test_report_files web/test_long_work api/test_long_work
3 | m | Tests and tools are in no wheel; the demo refuses a real database. | house/test_packaging cli/test_demo
"""),
    ("V15.3", "Defensive Coding", """
1 | m | Each answer has a declared shape. | api/test_everything_described
2 | n | The service calls no address.
3 | m | A form takes its own fields and no other. | web/test_people web/test_choices
4 | m | A client's address comes from a proxy on this machine only. | web/test_assurance::test_only_a_proxy_on_this_machine_is_believed
5 | m | mypy, strict, over everything. | house/test_style
6 | m | Scripts keep what they look up in Map and Set, or by known names. | journeys/test_crew
7 | m | Each value is taken from the one place that its route declares. | api/test_everything_described
"""),
    ("V16.1", "Security Logging Documentation", """
1 | m | Two records: the ledger in the database, for good, and a log of requests on standard output. | web/test_manual
"""),
    ("V16.2", "General Logging", """
1 | m | When, who, of which agency, from where, what, with which answer. | web/test_journal
2 | m | In UTC; the self-test looks at the clock. | web/test_journal domain/test_selftest
3 | m | On standard output and nowhere else. | test_main::test_it_logs_json_lines_without_addresses
4 | m | JSON, an object a line. | test_main::test_it_logs_json_lines_without_addresses
5 | m | Passwords, tokens and cookies are taken out. | domain/test_redaction web/test_journal::test_nothing_secret_is_written
"""),
    ("V16.3", "Security Events", """
1 | m | Signing in and out is in the ledger, failures are in the log. | actions/test_sign_ins::test_signing_in_and_out_is_in_the_ledger web/test_journal
2 | m | Each refusal is a warning with who asked for what. | web/test_journal::test_a_refusal_is_a_warning_and_names_the_person
3 | m | So is whatever is refused at the door. | web/test_journal::test_what_is_refused_at_the_door_is_told_as_well
4 | m | Failures are told with their place. | web/test_journal::test_a_failure_is_told_with_its_place_and_without_what_was_typed
"""),
    ("V16.4", "Log Protection", """
1 | m | A line is one JSON object, whatever it tells. | web/test_journal
2 | m | The ledger is append-only in the database itself, and its head stands on every signed paper. | storage/test_append_only lookups/test_ledger
3 | o | Carrying the log to another machine is the operator's; the head of the ledger is carried with each backup. | test_upkeep
"""),
    ("V16.5", "Error Handling", """
1 | m | A failure is told without its insides. | web/test_errors::test_our_failure_is_told_without_its_insides_and_loses_nothing
2 | m | Busy, full or gone, the database's trouble is told in words; looking up goes on where it can. | faults/test_troubles
3 | m | Nothing is stored of a change that failed. | storage/test_database::test_any_exception_undoes_everything faults/test_killed
"""),
    ("V17.1", "TURN Server", f"1 | n | {_NO_RTC}"),
    ("V17.2", "Media", f"1-4 | n | {_NO_RTC}"),
    ("V17.3", "Signaling", f"1-2 | n | {_NO_RTC}"),
)  # fmt: skip
