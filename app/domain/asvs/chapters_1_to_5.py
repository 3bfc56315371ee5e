"""Encoding, validation, the browser, the API, files."""

from app.domain.asvs.requirements import Row

ROWS: tuple[Row, ...] = (
    ("V1.1", "Encoding and Sanitization Architecture", """
1 | m | Forms and JSON are decoded once, by the framework, before anything looks at them. | web/test_hostile_names
2 | m | Escaping is the last step: templates escape by themselves, tables and papers take text as data. | house/test_templates::test_nothing_leaves_autoescape exchange/test_typst_papers
"""),
    ("V1.2", "Injection Prevention", """
1 | m | Every template escapes; no text is marked as safe. | web/test_hostile_names house/test_templates::test_nothing_leaves_autoescape
2 | m | Addresses are built from checked keys, tags and numbers; an address to go on to must be our own path. | web/test_sessions::test_only_our_own_addresses_are_led_to domain/test_device_tags
3 | m | Scripts stand in files only; what they need comes as JSON, written by the library. | house/test_templates::test_no_style_and_no_script_stands_in_a_page
4 | m | Statements are built by SQLAlchemy with parameters. | web/test_hostile_names
5 | m | The service starts no command of the system; what does long work is itself, by a fixed line. | web/test_assurance::test_the_program_starts_no_command_and_runs_no_text web/test_assurance::test_what_it_starts_beside_itself_is_itself
6 | n | No LDAP.
7 | n | No XPath.
8 | n | No LaTeX; papers are set by Typst, into which text comes as data only.
9 | m | No pattern is made of what somebody typed. | exchange/test_any_bytes
"""),
    ("V1.3", "Sanitization", """
1 | n | Nobody can type HTML that would be shown as such.
2 | m | Nothing is ever evaluated; the one formula of the bounds is read by a pattern. | web/test_assurance::test_the_program_starts_no_command_and_runs_no_text exchange/test_bounds_csv
3 | m | Text that is stored is freed of control characters and has a longest. | domain/test_plain_text
4 | n | Nobody can hand in SVG.
5 | n | No Markdown, style sheet or template can be handed in.
6 | n | The service calls no other service.
7 | m | Templates come from the installation; what was typed is data in them. | web/test_hostile_names exchange/test_typst_papers
8 | n | No JNDI.
9 | n | No memcache.
10 | m | No format string is made of what somebody typed. | web/test_hostile_names
11 | n | The service sends no mail.
"""),
    ("V1.4", "Memory, String, and Unmanaged Code", """
1 | m | The program is Python; libraries in other languages are kept to their published versions. | house/test_dependencies
2 | m | Numbers have ranges; one that is larger than any row's is simply not found. | storage/test_database::test_a_number_larger_than_any_row_is_not_found exchange/test_any_bytes
3 | m | Files, connections and transactions are closed by the block that opened them; a warning of one left open fails the tests. | storage/test_database
"""),
    ("V1.5", "Safe Deserialization", """
1 | m | A document type is refused before anything is resolved; no entity is ever followed. | exchange/test_profile_xlsx_read
2 | m | Only JSON, CSV, Parquet and XLSX are read, into declared types; nothing is unpickled. | exchange/test_any_bytes web/test_assurance::test_the_program_starts_no_command_and_runs_no_text
"""),
    ("V2.1", "Validation and Business Logic Documentation", """
1 | m | The manual and the published schemas say what each file and field may hold. | web/test_manual api/test_everything_described
2 | m | The rules of a policy are listed with sentence and source, from the code that applies them. | web/test_manual
3 | m | Sizes, rows, attempts and due times are in the manual and in README. | web/test_manual
"""),
    ("V2.2", "Input Validation", """
1 | m | Every input is read into a declared type with its range; unknown keys are refused. | api/test_everything_described exchange/test_any_bytes
2 | m | The server checks everything; a page without script works the same. | house/test_templates::test_whatever_htmx_does_works_without_script_too
3 | m | What belongs together is checked together: limits, ages, states, times. | domain/rules/test_statements domain/test_scheme_proof
"""),
    ("V2.3", "Business Logic Security", """
1 | m | Moves of a revision and steps of a finding are tables; no step is left out. | domain/test_moves domain/test_finding_life
2 | m | Due times, intervals and limits of numbers are enforced where the change is made. | actions/test_findings domain/test_shift_rounds
3 | m | One change is one transaction with its ledger entry; killed at any moment, none stands by half. | faults/test_killed storage/test_database
4 | m | What only one may do at a time is locked; of two at once, one is told. | actions/test_at_once faults/test_two_sign
"""),
    ("V2.4", "Anti-automation", """
1 | m | Sign-ins are slowed by account and by address, drills by account, address and agency; tokens have a number of requests a minute, files have a size. | domain/test_throttling api/test_tokens web/test_security actions/test_drills
"""),
    ("V3.2", "Unintended Content Interpretation", """
1 | m | What is no page is sent as a download or with its own kind, never sniffed. | web/test_security web/test_register
2 | m | Scripts set text, never markup of what was typed. | house/test_templates web/test_hostile_names
"""),
    ("V3.3", "Cookie Setup", """
1 | m | Every cookie is Secure wherever HTTPS is used, and its name begins with __Host-. | web/test_sessions::test_over_https_every_cookie_is_kept_to_this_host
2 | m | SameSite=Lax. | web/test_sessions::test_the_cookie_is_out_of_reach_of_scripts_and_other_sites
3 | m | Each name begins with __Host-, and one without it is nobody's. | web/test_sessions::test_over_https_a_cookie_without_the_prefix_is_nobodys
4 | m | HttpOnly, and the token is sent in no other way. | web/test_sessions::test_the_cookie_is_out_of_reach_of_scripts_and_other_sites
"""),
    ("V3.4", "Browser Security Mechanism Headers", """
1 | m | A year, with subdomains, wherever HTTPS is used. | web/test_security::test_https_is_demanded_only_where_it_is_used
2 | m | No answer allows another origin. | web/test_security
3 | m | Everything from this site alone, no inline script or style, no object, no base. | web/test_security::test_every_answer_carries_a_policy_without_loopholes
4 | m | nosniff on every answer. | web/test_security::test_every_answer_carries_a_policy_without_loopholes
5 | m | The referrer stays within the site. | web/test_security::test_every_answer_carries_a_policy_without_loopholes
6 | m | No page may be framed. | web/test_security::test_every_answer_carries_a_policy_without_loopholes
"""),
    ("V3.5", "Browser Origin Separation", """
1 | m | A change is taken only from our own pages, told by Sec-Fetch-Site or Origin. | web/test_security::test_a_change_comes_from_our_own_pages web/test_every_address::test_no_page_takes_a_change_from_another_site
2 | n | Nothing relies on a preflight.
3 | m | GET changes nothing: a reading transaction cannot write. | storage/test_engine storage/test_database
4 | m | The manual tells to give the service a host name of its own. | web/test_manual
5 | m | Messages are exchanged only between a page and its own service worker. | journeys/test_crew_offline
"""),
    ("V3.7", "Other Browser Security Considerations", """
1 | m | HTML, CSS, SVG and scripts; two pinned libraries. | house/test_templates::test_nothing_is_fetched_from_elsewhere
2 | m | Nobody is led to another host. | web/test_sessions::test_only_our_own_addresses_are_led_to
"""),
    ("V4.1", "Generic Web Service Security", """
1 | m | Every answer names its kind, text as UTF-8; the API's are held against its description. | api/test_everything_described
2 | o | The redirect to HTTPS is the proxy's; its example in the manual excepts the API, but no test shows it.
3 | m | The address of a client is taken from a proxy on this machine only. | web/test_assurance::test_only_a_proxy_on_this_machine_is_believed
"""),
    ("V4.2", "HTTP Message Structure Validation", """
1 | m | A body without a length, or with another framing, is refused at the door. | web/test_security::test_an_endless_text_is_refused_before_it_is_read
"""),
    ("V4.3", "GraphQL", "1-2 | n | No GraphQL."),
    ("V4.4", "WebSocket", "1-4 | n | No WebSocket."),
    ("V5.1", "File Handling Documentation", """
1 | m | The manual lists what is taken in, how large, and how a wrong file is told. | web/test_manual
"""),
    ("V5.2", "File Upload and Content", """
1 | m | Each address has a largest body; long files wait on the disk and are read piece by piece. | web/test_uploads::test_a_file_may_be_larger_than_a_form_and_has_a_limit_of_its_own web/test_security::test_a_form_has_a_longest
2 | m | The content tells what it is, whatever the name says; each is read by a strict reader. | exchange/test_any_bytes exchange/test_report_files
3 | m | Unpacked size, ratio, parts, rows, columns and cells of a workbook are bounded before it is opened; rows, kinds and unpacked size of a Parquet file before it is read. | exchange/test_profile_xlsx_read exchange/test_trends_parquet
"""),
    ("V5.3", "File Storage", """
1 | m | A file that was handed in is kept as data in the database and never served as it is. | web/test_uploads
2 | m | No path is made of what somebody typed. | web/test_uploads::test_a_hostile_name_is_only_a_name
"""),
    ("V5.4", "File Download", """
1-2 | m | Names of downloads are made of checked keys, days and numbers. | web/test_inspections web/test_profile_sheets
3 | n | No file is handed on as it came: what goes out is written anew from what was read.
"""),
)  # fmt: skip
