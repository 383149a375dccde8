/**
 * Every error code in one table: what it means and what to do. Messages add the file, line or point.
 * `deploy/runbook.md` is generated from this table and a test compares both ways. Codes are stable: match on the
 * code, never on the message.
 */
export interface ErrorEntry {
  readonly meaning: string;
  readonly action: string;
}

export const ERRORS = {
  // command line
  usage: { meaning: 'The command line is not understood.', action: 'Run `tonhour help` and correct the call.' },
  bad_record: {
    meaning: 'A line of input is not the record that the verb reads.',
    action: 'Correct the line; the other lines were answered.',
  },
  internal: {
    meaning: 'A claim inside the program was broken.',
    action: 'Report it with the log; the service manager restarts the agent.',
  },

  demo: { meaning: 'The demo cannot be started.', action: 'Run `npm ci` again; if it stays, report it with the log.' },

  // Node-RED
  node_settings: {
    meaning: 'A Node-RED node of this project is not set up so that it can work.',
    action: 'Open the node in the editor, correct the setting that the message names and deploy.',
  },
  node_red_missing: {
    meaning: 'The site file asks for Node-RED beside the agent, and none that can be used is installed.',
    action: 'Install it as the message says; the agent goes on without it, looks again by itself and starts it then.',
  },
  node_red_ended: {
    meaning:
      'The Node-RED that the agent hosts ended or cannot be started. Minutes go on; it is started anew after a pause.',
    action:
      "Read its last lines in the agent's log: a port that is taken, a flow that ends the process. Correct the flow in flows.json of its folder.",
  },
  node_red_memory: {
    meaning:
      'The hosted Node-RED held more memory than node_red.memory_mb and was ended; it is started anew after a pause.',
    action: 'Look for a flow that keeps messages, or allow more where the machine has it.',
  },
  node_red_silent: {
    meaning:
      'The hosted Node-RED does not answer: a flow keeps its thread. After five minutes it is ended and started anew.',
    action: 'Find the flow that computes or waits in a loop, and split its work or take it out.',
  },

  // refrigerant
  refrigerant_unknown: {
    meaning: 'No equation of state of that name is carried.',
    action: 'Use one of the names listed in the message.',
  },
  refrigerant_out_of_range: {
    meaning: 'The state lies outside the range of the equation of state.',
    action: 'Check the inputs and their units.',
  },
  refrigerant_no_solution: {
    meaning: 'No state with these properties was found.',
    action: 'Check the pair of inputs; if they are physical, report them.',
  },

  // cycle
  cycle_impossible: {
    meaning: 'No circuit runs between the states asked for.',
    action: 'Check order and units of pressures and temperatures: evaporator below tank below condenser.',
  },

  // valves
  recording: {
    meaning: 'A recording of a loop cannot be read: file, column or line is named.',
    action: 'Correct the line or the name of the column; an empty cell is a missing sample and needs no correction.',
  },

  // replay
  trend_file: {
    meaning: 'A trend export cannot be read as its map says: file, line or column is named.',
    action:
      'Correct the map (config/README.md, Replay); single lines that cannot be read are counted and cost only themselves.',
  },

  // alarms
  alarm_rule: {
    meaning: 'An alarm rule of the site file cannot be used.',
    action: 'Correct the key that the message names.',
  },
  alarm_command: {
    meaning: 'A command to acknowledge, shelve or unshelve an alarm was refused. Nothing was changed.',
    action: 'Read the reason in the message, correct the command and send it again.',
  },

  callout_unknown: {
    meaning: 'No alarm of that name was raised, or its minute is no longer kept: there is no packet to make of it.',
    action: 'Take an alarm that is listed: on the page under Alarms, or by `tonhour callout --config FILE`.',
  },

  // sources
  source_settings: {
    meaning: 'A source cannot be built from its settings and points.',
    action: 'Correct the source or the point named in the message in the site file.',
  },
  source_start: {
    meaning:
      'A source could not be started. The other chillers are polled; this one is tried again with a growing pause.',
    action: 'Read the reason beside it: mostly a port that another program holds.',
  },
  source_stop: {
    meaning: 'A source did not stop cleanly or in time when the agent ended.',
    action: 'Nothing is lost; report it if it happens again.',
  },
  controller_unreachable: {
    meaning: 'No connection to the controller or gateway could be opened.',
    action:
      'Check cable, power, address and port; check whether another client holds all its connections. Retried with a growing pause.',
  },
  controller_silent: {
    meaning: 'The connection is open but no complete reply came in time, or the controller ended the connection.',
    action:
      'Check the unit number; give the controller more time (timeout_ms, pause_ms). Retried with a growing pause.',
  },
  controller_malformed: {
    meaning:
      'A reply does not belong to what was asked: number, unit, function, length or byte count differ. It was refused and the connection reopened.',
    action: 'Look for a gateway that mixes clients up or for two devices of one unit number.',
  },
  controller_duplicates: {
    meaning: 'The controller sends its replies more than once. The copies are dropped and polling goes on.',
    action: 'Check the gateway for a doubled route or a retry setting; values are not affected.',
  },
  controller_exception: {
    meaning: 'The controller refuses to read an address. The points there are missing, the others are read.',
    action: 'Compare table, register and type of the named points with the point list of the controller.',
  },
  bacnet_not_found: {
    meaning: 'No device of that instance answered Who-Is.',
    action:
      'Check instance, broadcast address, network number and UDP port; behind a router of another subnet a BBMD is needed, or give the address.',
  },
  bacnet_other_device: {
    meaning: 'At the given address there is a device, but not the one of that instance. Nothing is read from it.',
    action: 'Correct `device` or `address` in the site file.',
  },
  bacnet_instance_twice: {
    meaning: 'Two addresses claim the same device instance. Which one is meant cannot be known, so neither is read.',
    action: 'Give each device of the network its own instance, or give the address in the site file.',
  },
  bacnet_foreign: {
    meaning: 'The BBMD does not take the agent as a foreign device, or does not answer.',
    action: 'Check the address of the BBMD and whether it admits foreign devices. Retried with a growing pause.',
  },
  bacnet_cov_refused: {
    meaning: 'The controller does not report changes of a point. It is polled instead, at the ordinary pace.',
    action: 'Nothing must be done; take `cov` away from the points named, or see whether the controller limits them.',
  },

  // history and sinks
  history_disk_full: {
    meaning: 'The store takes no more: the disk or its quota is full. Minutes wait in memory, the page lives on.',
    action: 'Free space on the file system of the history folder; the waiting minutes are then stored by themselves.',
  },
  history_io: {
    meaning: 'The store cannot be read or written (input/output error, missing folder, wrong permissions, read-only).',
    action: 'Check the disk and the rights of the history folder; waiting minutes are stored when it answers again.',
  },
  history_busy: {
    meaning: 'Another process holds the store.',
    action: 'Run one agent per history folder; end whatever holds the file.',
  },
  history_in_use: {
    meaning: 'Another agent writes to the history folder.',
    action: 'Stop the other agent, or give this one a folder of its own (history.folder).',
  },
  history_corrupt: {
    meaning: 'The store is damaged. It was put aside under a name with the time, and a new one was started.',
    action: 'Keep the file put aside for repair; check the disk and the power supply of the gateway.',
  },
  history_newer: {
    meaning: 'The store was written by a newer version of the agent.',
    action: 'Install that version again, or start with another history folder.',
  },
  history_sequence: {
    meaning: 'A minute arrived with a sequence number that the store already has.',
    action: 'Run one agent per history folder; if there is one only, report it with the log.',
  },
  history_dropped: {
    meaning:
      'A bound of the store or of the outbox was reached and the oldest entries were given up; a gap record says which.',
    action: 'Bring the sink or the disk back sooner, or look why it was away so long.',
  },
  mqtt_options: {
    meaning: 'What the site file says of the broker cannot be used.',
    action: 'Correct the named key of the broker.',
  },
  mqtt_unreachable: {
    meaning: 'The broker cannot be reached or does not answer. Messages are kept and delivered later.',
    action: 'Check the broker, its address and port, and the network between.',
  },
  mqtt_tls: {
    meaning:
      'No safe connection to the broker: it offers no TLS at this port, or its certificate is not trusted, out of date, or of another name. Nothing is sent without; messages are kept.',
    action:
      'Compare address and port with what the broker offers, and the host with the names in its certificate; give the authority of the certificate as `mqtt.ca` where it is one of your own.',
  },
  mqtt_not_authorised: {
    meaning: 'The broker refuses the user name, the password or the right to publish. Messages are kept.',
    action: 'Correct user, password or the access list of the broker.',
  },
  mqtt_refused: {
    meaning: 'The broker refuses a message or the connection for a reason of its own.',
    action: 'Look at the reason code in the message and at the log of the broker.',
  },

  influx_options: {
    meaning: 'What the site file says of the time-series store cannot be used.',
    action: 'Correct the named key of `influx`.',
  },
  influx_unreachable: {
    meaning:
      'The time-series store cannot be reached, is busy, or does not answer in time. Minutes are kept and written later.',
    action: 'Check the store, its address and port, and the network between.',
  },
  influx_not_authorised: {
    meaning: 'The time-series store refuses the token, the user or the right to write. Minutes are kept.',
    action: 'Correct the token or the login, or give it the right to write to that bucket or database.',
  },
  influx_refused: {
    meaning:
      'The time-series store does not take what is written, for a reason of its own. What it may take later is kept; a minute that it refuses while it takes others is given up and counted.',
    action:
      'Read what the store says, in the message: a bucket or database to be made, a field of another type, a limit.',
  },

  mail_options: {
    meaning: 'What the site file says of the mail cannot be used.',
    action: 'Correct the named key of `mail`.',
  },
  mail_unreachable: {
    meaning:
      'The mail server cannot be reached, or broke off or fell silent in the middle. Alarms are kept and mailed later.',
    action:
      'Check the mail server, its address and port (587 for starttls, 465 for implicit), and the network between.',
  },
  mail_tls: {
    meaning:
      'No safe connection to the mail server: it offers no TLS, or its certificate is not trusted, out of date, or of another name. Nothing is sent without; alarms are kept.',
    action:
      'Compare `security` and `port` with what the server offers; give the authority of its certificate as `ca` where it is one of your own.',
  },
  mail_not_authorised: {
    meaning: 'The mail server refuses user and password, or asks for them. Alarms are kept and mailed later.',
    action: 'Correct `username` and `password` of `mail`.',
  },
  mail_deferred: {
    meaning:
      'The mail server asks to come later, for all or for the recipients named. Alarms are kept and tried again.',
    action: 'Nothing, if it passes; else look why the server is busy, or the box of the recipient full.',
  },
  mail_refused: {
    meaning:
      'The mail server refuses a mail for good. It was given up and counted; its alarms stand in the alarm journal.',
    action: 'Read what the server says, in the message: size, content, a sender that it does not know.',
  },
  mail_recipient_refused: {
    meaning: 'The mail server refuses a recipient. The others get the mail; the refusal is counted.',
    action: 'Correct the address under `mail.to`, or let the server know it.',
  },

  // site file
  config_not_read: {
    meaning: 'The site file is missing, cannot be read, or is larger than a site file can be.',
    action: 'Check the path and its rights; `config/template.yaml` is a start for a new site.',
  },
  config_malformed: {
    meaning: 'The site file is not YAML.',
    action: 'Correct the line that the message names: indentation, quotes, colons.',
  },
  config_version: {
    meaning: 'The site file does not say its version, or it was written for a newer agent.',
    action: 'Begin the file with `version: 1`, or update the agent.',
  },
  config_key_unknown: {
    meaning: 'A key that the agent does not know. It would be without effect, so it is refused.',
    action: 'Correct the key; the nearest known one is in the message.',
  },
  config_key_missing: {
    meaning: 'A key that has no default is not there.',
    action: 'Add the key that the message names.',
  },
  config_value: {
    meaning: 'A value cannot be used: wrong kind, out of its bounds, or contradicting another key.',
    action: 'Correct the value as the message says.',
  },
  config_unit: {
    meaning: 'A unit is unknown, missing, or measures something else.',
    action: 'Use one of the units in the message.',
  },
  config_point_unknown: {
    meaning: 'There is no point of that name.',
    action: 'Correct the name; the nearest known one is in the message.',
  },
  config_register_shared: {
    meaning: 'Two points are read from one register or one BACnet object: one of the addresses is a slip.',
    action: 'Give each point its own register or object; bits of one register may be shared out.',
  },
  config_id_twice: {
    meaning: 'An id that must be unique is given twice.',
    action: 'Give each its own id.',
  },
  config_secret: {
    meaning: 'A secret that the site file points to cannot be read.',
    action: 'Create the file or the environment variable that the message names, readable by the agent.',
  },
  config_metric_unobservable: {
    meaning:
      'With the points of the site file a metric can never be computed. A notice where it is published as missing, a mistake where an alarm watches it.',
    action: 'Map or declare what the message or the list of `tonhour check` names, or take out the alarm.',
  },

  // web
  web_bad_query: {
    meaning: 'A request to the page or its API is not understood.',
    action: 'Correct the parameter that the message names.',
  },
  web_too_many_points: {
    meaning: 'A history was asked for that is longer than one answer may be.',
    action: 'Ask for a shorter time or a greater step.',
  },
  web_unknown_chiller: {
    meaning: 'The site has no chiller of that id.',
    action: 'Use one of the ids listed in the message.',
  },
  web_unknown_metric: {
    meaning: 'The chiller has no metric or point of that name.',
    action: 'See /api/site for the names.',
  },
  web_not_found: { meaning: 'There is nothing at that address.', action: 'Start at / or see the README for the API.' },
  web_method: {
    meaning: 'The page and its API only read, but for the form by which an alarm is acknowledged or shelved.',
    action: 'Use GET.',
  },
  web_foreign_form: {
    meaning: 'A command to an alarm came from the page of another site. Nothing was changed.',
    action: 'Open the page itself and use its form; behind a proxy, let it pass the Host header on unchanged.',
  },
  web_unknown_host: {
    meaning:
      'The page was asked for by a name that the site file does not know. Another site can let its own name point at the agent to read the page in a browser and send its forms: such a request is not answered.',
    action:
      'Open the page by its IP address, or by a name without a dot, or add the name to `web.names` of the site file; behind a proxy that passes the Host header on, the name of the proxy.',
  },
  web_busy: {
    meaning: 'As many pages follow the live stream as are allowed.',
    action: 'Close some; a page that waits tries again by itself.',
  },
  web_port: {
    meaning: 'The address and port of the page cannot be listened on.',
    action: 'Choose another port in the site file, or end the program that holds this one.',
  },
} as const satisfies Record<string, ErrorEntry>;

export type ErrorCode = keyof typeof ERRORS;
