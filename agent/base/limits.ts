/**
 * Every bound of the project in one place; what a bound drops is counted by whoever applies it. Relations are
 * asserted below.
 */
import { assert } from './result.ts';

export const LIMITS = {
  /** Chillers one agent looks after. */
  chillers_max: 16,
  /** Points mapped per chiller. */
  points_per_chiller_max: 200,
  /** Least and greatest length of one interval, s. */
  interval_s_min: 1,
  interval_s_max: 900,
  /** Samples kept per point for one interval's mean and spread. */
  samples_per_interval_max: 1024,
  /** Fast samples kept in memory per point for the level loops (2 h at 1 s). */
  fast_window_samples_max: 7200,
  /** Seconds that the search for hunting looks back. */
  hunting_window_s_max: 7200,
  /** A recording given to the search for hunting, bytes. */
  recording_bytes_max: 64 * 1024 * 1024,
  /** Cells of flow and head in which the main compressor's efficiency is learned, per chiller. */
  learned_cells_max: 160,
  /** Replay: a hole in an export longer than this is left out and told, s; columns of time in a report's trends. */
  replay_gap_s_max: 7 * 86_400,
  replay_trend_bins_max: 360,
  /** Replay: alarms kept for the report and the summary; the file of alarms has all. */
  replay_alarms_max: 500,
  /** Modbus: registers and bits in one request (Modbus Application Protocol V1.1b3). */
  modbus_registers_per_request_max: 125,
  modbus_bits_per_request_max: 2000,
  /** Registers fetched though nobody asked, to save a request. */
  modbus_gap_registers_max: 16,
  /** Coils or discrete inputs fetched though nobody asked. */
  modbus_gap_bits_max: 256,
  /** Copies of one reply that are dropped as duplicates before the connection is given up. */
  modbus_duplicates_max: 3,
  /** Rest between two requests, ms. */
  modbus_pause_ms_max: 10_000,
  /** Seconds after which blocks that were split round a refused register are tried whole again. */
  modbus_rejoin_s: 3600,
  modbus_timeout_ms_min: 50,
  modbus_timeout_ms_max: 30_000,
  /** BACnet: wait for one reply or one segment, ms; further tries of a request without a reply. */
  bacnet_timeout_ms_min: 50,
  bacnet_timeout_ms_max: 30_000,
  bacnet_retries: 1,
  /** Objects asked for in one request. */
  bacnet_objects_per_request_max: 100,
  /** One reply in segments: segments, bytes, segments between two acknowledgements, ms in all. */
  bacnet_segments_max: 1024,
  bacnet_reply_bytes_max: 1024 * 1024,
  bacnet_window_max: 16,
  bacnet_reply_ms_max: 60_000,
  /** Rest of an invoke id that got no reply before it is used again, ms. */
  bacnet_id_rest_ms: 120_000,
  /** Devices one socket has exchanged requests with. */
  bacnet_peers_max: 256,
  /** Seconds after which a controller that could not answer large requests is asked them again. */
  bacnet_rejoin_s: 3600,
  /**
   * Change of value: lifetime of a subscription, period of polling beside it, pause after a refused subscription, s.
   */
  bacnet_cov_lifetime_s: 300,
  bacnet_cov_poll_s: 60,
  bacnet_cov_retry_s: 600,
  /** Time to live of a registration as a foreign device, s. */
  bacnet_foreign_ttl_s_min: 30,
  /** What one search may find. */
  bacnet_devices_found_max: 1000,
  bacnet_objects_found_max: 10_000,
  /** Emulated BACnet controller: subscriptions kept; replies in segments under way. */
  plant_bacnet_subscriptions_max: 200,
  plant_bacnet_replies_max: 32,
  /** Period of polling, s. */
  poll_s_min: 0.1,
  poll_s_max: 900,
  /** Reconnection back-off, ms. */
  backoff_ms_min: 500,
  backoff_ms_max: 60_000,
  /** Outgoing messages kept while a sink is away: a week of minutes of four chillers with room to spare. */
  outbox_messages_max: 200_000,
  outbox_bytes_max: 512 * 1024 * 1024,
  /** Messages a sink takes from the outbox at once. */
  outbox_batch_max: 256,
  /** Messages sent and not yet acknowledged. */
  mqtt_in_flight_max: 64,
  mqtt_payload_bytes_max: 256 * 1024,
  /**
   * Longest wait for the broker's acknowledgement of the oldest message in flight, and for its answer to a
   * connection, ms.
   */
  mqtt_acknowledge_ms_max: 15_000,
  /** Tries of one message that the broker refuses without saying why, before it is given up and reported as a gap. */
  mqtt_refusals_max: 20,
  /** Longest wait for each step of a farewell, ms. */
  mqtt_farewell_ms_max: 1000,
  /** Messages sent anew at each connection (status, descriptions). */
  mqtt_announcements_max: 64,
  /** Minutes and bytes (not yet compressed) in one write to a time-series store, and wait for its answer, ms. */
  influx_batch_messages_max: 32,
  influx_batch_bytes_max: 2 * 1024 * 1024,
  influx_answer_ms_max: 20_000,
  /** Refusals in a row, of a store that says nothing of their cause, before its batch is tried minute by minute. */
  influx_refusals_max: 10,
  /** Longest pause that a store may ask for, ms. */
  influx_pause_ms_max: 15 * 60_000,
  /** Wait at the end for the answer to a write under way, ms. */
  influx_farewell_ms_max: 2000,
  /** Mail: recipients; alarms that get a mail each (more that wait together get a digest); alarms of one digest. */
  mail_recipients_max: 50,
  mail_single_max: 5,
  mail_alarms_per_mail_max: 10_000,
  /** Alarms that a digest names in its text; its table names all. */
  mail_named_max: 40,
  mails_per_hour_max: 600,
  /** Pause after a failure of the mail server, ms. */
  mail_backoff_ms_min: 10_000,
  mail_backoff_ms_max: 600_000,
  /** Longest silence of the mail server at any step, and longest sending of one mail, ms. */
  mail_silence_ms_max: 30_000,
  mail_send_ms_max: 120_000,
  /** Tries of one mail that the server refuses at its door for good, before it is given up and counted. */
  mail_refusals_max: 20,
  /** Recipients whose server asks to come later: mails that wait for them, and how long, ms. */
  mail_deferred_max: 20,
  mail_deferred_ms_max: 24 * 3_600_000,
  /** Wait at the end for the mail under way, ms. */
  mail_farewell_ms_max: 2000,
  /** Callout packet: seconds of trend before and after the start, columns of a trend, trends, entries of the log. */
  callout_before_s: 3 * 3600,
  callout_after_s: 3600,
  callout_columns_max: 120,
  callout_trends_max: 8,
  callout_log_max: 20,
  callout_bytes_max: 160 * 1024,
  /** Packets that one minute of a chiller publishes: of its most urgent alarms; the others are made when asked for. */
  callouts_per_minute_max: 4,
  /**
   * Support bundle: newest minutes of a chiller, steps of alarms, end of the log that is kept, and of the log that is
   * read, bytes.
   */
  bundle_minutes_max: 3 * 24 * 60,
  bundle_alarms_max: 2000,
  bundle_log_bytes_max: 2 * 1024 * 1024,
  bundle_log_read_bytes_max: 64 * 1024 * 1024,
  /** Stored minutes per chiller: two years. */
  minutes_kept_max: 2 * 366 * 24 * 60,
  /** Newest minutes of a chiller that are stored as they came; older ones are packed by the block. */
  minutes_unpacked_max: 120,
  minutes_per_block: 60,
  /**
   * Minutes kept in memory while the store takes none (12 h of four chillers), and how many of them one call commits.
   */
  history_pending_max: 2880,
  history_pending_bytes_max: 64 * 1024 * 1024,
  history_commits_per_call_max: 32,
  /** Rows one commit may delete per table to keep a bound: the work of a minute stays even. */
  history_deletes_per_commit_max: 1024,
  history_busy_ms_max: 250,
  /** Hours kept as sums per chiller, long after their minutes: twenty years. */
  season_hours_kept_max: 20 * 366 * 24,
  /** Longest season asked for at once, days. */
  season_days_max: 10 * 366,
  /**
   * Baseline: least steady minutes of an hour that counts; least such hours of a fit, and of a level anew after work;
   * hours looked at before work for what it changed; longest declared period, days.
   */
  baseline_minutes_min: 45,
  baseline_hours_min: 48,
  baseline_restart_hours: 72,
  /** Hours that one fit is made of: more are thinned evenly, so that a midnight never takes long. */
  baseline_fit_hours_max: 2000,
  baseline_before_hours: 336,
  baseline_days_max: 800,
  /** Words of one entry of the maintenance log, characters. */
  maintenance_text_max: 2000,
  /** A store up to this size is checked whole when it is opened. */
  history_check_bytes_max: 64 * 1024 * 1024,
  /** Fast samples on disk: three days. */
  fast_kept_s_max: 3 * 24 * 3600,
  alarms_per_chiller_max: 200,
  alarm_journal_rows_max: 100_000,
  /** A shelf: its length where none is asked for, and the longest, s. Common practice, no source. */
  alarm_shelf_s: 8 * 3600,
  alarm_shelf_s_max: 7 * 24 * 3600,
  /** A command to an alarm: bytes of its payload, characters of one of its texts. */
  command_bytes_max: 4096,
  command_text_max: 500,
  /** Commands that wait for their minute, all chillers together, and those kept after it. */
  commands_waiting_max: 256,
  commands_kept_max: 1000,
  /** Commands that the broker may send before the first is answered; lines of a minute's log about refused ones. */
  commands_in_flight_max: 16,
  command_log_lines_max: 20,
  /** How long a broker is asked to keep commands for an agent that is away, s. */
  command_session_s: 3600,
  /** Site file, bytes. */
  site_file_bytes_max: 2 * 1024 * 1024,
  /** Names by which the page may be opened. */
  web_names_max: 16,
  /** Pages listening to the live stream. */
  live_listeners_max: 64,
  /** Points of one history answer. */
  history_points_max: 4000,
  /** One line of NDJSON on standard input, bytes. */
  line_bytes_max: 1024 * 1024,
  /**
   * Refrigerant states: least temperature (K) and pressure (Pa), and how near the critical temperature saturation is
   * given.
   */
  refrigerant_temperature_K_min: 230,
  refrigerant_pressure_Pa_min: 100,
  saturation_critical_fraction_max: 0.99,
  /** Label combinations of the agent's own metrics. */
  agent_series_max: 500,
  /** Time the service manager may take to read a notification, ms. */
  notify_ms_max: 5000,
  /** Node-RED beside the agent: pause before it is started anew, ms; after so long a life pauses begin short again. */
  node_red_backoff_ms_min: 1000,
  node_red_backoff_ms_max: 300_000,
  node_red_settled_ms: 600_000,
  /** How often it is looked after, when its silence is told, and after which silence it is ended, ms. */
  node_red_look_ms: 5000,
  node_red_silence_told_ms: 20_000,
  node_red_silent_ms_max: 300_000,
  /** Time that it may take to stop, ms. */
  node_red_stop_ms_max: 4000,
  /** What of its output is read, and how many lines of it are logged. */
  node_red_output_bytes_per_s_max: 1024 * 1024,
  node_red_lines_per_s_max: 50,
  /** Log: lines of one kind in a window of so many ms; kinds that are told apart. */
  log_window_ms: 60_000,
  log_lines_per_window_max: 10,
  log_kinds_max: 500,
  /** Seconds `stop` may take before it is given up. */
  stop_s_max: 10,
} as const;

assert(LIMITS.outbox_batch_max <= LIMITS.outbox_messages_max, 'a batch fits the outbox');
assert(LIMITS.mqtt_in_flight_max <= LIMITS.outbox_batch_max, 'what is in flight comes from one batch');
assert(LIMITS.influx_batch_messages_max <= LIMITS.outbox_batch_max, 'a write comes from one batch');
assert(LIMITS.influx_farewell_ms_max < 1000 * LIMITS.stop_s_max, 'the last write fits the time to stop');
assert(3 * LIMITS.command_text_max < LIMITS.command_bytes_max, 'a command whose texts are allowed fits');
assert(LIMITS.alarm_shelf_s <= LIMITS.alarm_shelf_s_max, 'a shelf of the usual length is allowed');
assert(LIMITS.callout_bytes_max < LIMITS.mqtt_payload_bytes_max, 'a packet fits a message');
assert(LIMITS.mail_single_max < LIMITS.mail_named_max, 'a digest names more than what gets a mail each');
assert(LIMITS.mail_alarms_per_mail_max <= LIMITS.outbox_messages_max, 'a digest fits the outbox');
assert(LIMITS.mail_backoff_ms_min < LIMITS.mail_backoff_ms_max, 'pauses of the mail grow');
assert(LIMITS.mail_farewell_ms_max < 1000 * LIMITS.stop_s_max, 'the last mail fits the time to stop');
assert(LIMITS.backoff_ms_min < LIMITS.backoff_ms_max, 'back-off grows');
assert(LIMITS.node_red_backoff_ms_min < LIMITS.node_red_backoff_ms_max, 'pauses of Node-RED grow');
assert(LIMITS.node_red_silence_told_ms < LIMITS.node_red_silent_ms_max, 'silence is told before it ends Node-RED');
assert(LIMITS.node_red_stop_ms_max < 1000 * LIMITS.stop_s_max, 'Node-RED fits the time to stop');
assert(LIMITS.modbus_gap_registers_max < LIMITS.modbus_registers_per_request_max, 'a gap fits a request');
assert(LIMITS.modbus_gap_bits_max < LIMITS.modbus_bits_per_request_max, 'a gap of bits fits a request');
assert(
  LIMITS.bacnet_segments_max * 50 <= LIMITS.bacnet_reply_bytes_max,
  'a reply in the smallest segments fits its bytes',
);
assert(LIMITS.bacnet_window_max <= 127, 'a window is one of the standard');
assert(LIMITS.bacnet_cov_poll_s < LIMITS.bacnet_cov_lifetime_s, 'polling goes on beside a subscription');
assert(LIMITS.poll_s_min < LIMITS.poll_s_max, 'poll periods are in order');
assert(LIMITS.interval_s_min >= 1 && LIMITS.interval_s_min < LIMITS.interval_s_max, 'interval bounds are in order');
assert(
  LIMITS.minutes_per_block < LIMITS.minutes_unpacked_max,
  'after packing, the newest minutes are still there as they came',
);
assert(LIMITS.minutes_unpacked_max < LIMITS.minutes_kept_max, 'a minute is packed before it is given up');
assert(LIMITS.history_commits_per_call_max > 1, 'a backlog of minutes shrinks');
assert(3 * LIMITS.mqtt_farewell_ms_max < 1000 * LIMITS.stop_s_max, 'a farewell fits the time to stop');
