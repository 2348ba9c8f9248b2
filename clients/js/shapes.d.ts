// What the service answers, as JSON. Made from the contract by `make proto`; do not edit.
// A field without ? is in every answer. A caller may leave out what the service fills in; /docs/api of a service tells.

/** An object whose shape the schema of its style has. */
export type Values = Record<string, unknown>;

/** What a plan is to reach. Figures left out take the common-practice defaults (no published source). */
export interface Aim {
  /** Which plan is the best one; left out: LEAST_WORK. */
  kind: AimKind;
  /** Half of the allowed band around the datum, mm, above 0; default 3.175 (1/8 inch). */
  toleranceMm?: number;
  /** How sure a verdict must be, 0.5 or more and below 1; default 0.9. */
  confidence?: number;
  /** What `confidence` is about; left out: ROW. */
  confidenceOf: AimConfidenceOf;
  /** What a row that cannot be proven is worth, seconds, 0 or more; default 900. */
  missSeconds?: number;
  /** MATCH_ROW only, required there: the number of the row to match, a row of the request. */
  row?: number;
  /** SET_DEPTH only, required there: the datum, in the fixture's own numbers, mm, -20 to 300. */
  datumMm?: number;
  /** SET_DEPTH only: standard uncertainty of the fixture's zero against that datum, mm, 0 or more;
   * default 0. */
  zeroUncertaintyMm?: number;
  /** What one more reading of a row takes, seconds, 0 or more; default 20. */
  readSeconds?: number;
}

/** What `confidence` is about. */
export type AimConfidenceOf = "CONFIDENCE_OF_UNSPECIFIED" | "ROW" | "PLANTER";

/** Which plan is the best one. */
export type AimKind = "KIND_UNSPECIFIED" | "LEAST_WORK" | "CLOSEST" | "MATCH_ROW" | "SET_DEPTH";

/** What a write did. */
export interface AppendResponse {
  /** The events that were appended. */
  events: JobEvent[];
  /** The job after them. */
  job?: Job;
}

/** The direction in which a move of a mechanism with lost motion must end. */
export type Approach = "APPROACH_UNSPECIFIED" | "SHALLOWER" | "DEEPER";

/** The unit that an area is typed in, and that words say areas in. */
export type AreaUnit = "AREA_UNIT_UNSPECIFIED" | "HECTARE" | "ACRE";

/** One write. */
export interface AuditEntry {
  /** When. */
  createTime?: string;
  /** Label of the key that wrote. */
  keyLabel: string;
  /** The method: `AddReadings`. */
  method: string;
  /** What was written: a resource name. */
  resource: string;
  /** The request's id in the log. */
  requestId: string;
}

/** One caution to tick. */
export interface CautionState {
  /** Id: `lockout`, `stands`. */
  id: string;
  /** The sentence. */
  text: string;
  /** Who ticked it; empty while open. */
  person: string;
  /** When; absent while open. */
  tickTime?: string;
}

/** The tick under one caution. */
export interface CautionTick {
  /** Id of the caution. */
  caution: string;
}

/** Something that changed. */
export interface Change {
  /** What was done. */
  kind: ChangeKind;
  /** What it was done to: `planters/{planter}` or `planters/{planter}/jobs/{job}`. */
  resource: string;
  /** When. */
  createTime?: string;
}

/** What was done. */
export type ChangeKind = "KIND_UNSPECIFIED" | "JOB_OPENED" | "JOB_PLANNED" | "JOB_SIGNED" | "JOB_VOIDED" | "PLANTER_CREATED" | "PLANTER_UPDATED" | "PLANTER_DELETED";

/** The drift of the middle third of the rows, as one and the same fixture, its zero unchanged, read it. */
export interface CommonWear {
  /** Visits with that fixture, three at least. */
  visits: number;
  /** Drift, mm a hectare; positive is deeper. */
  driftMmPerHectare: number;
  /** Its interval at the wanted confidence, the fixture's zero uncertain by 0.5 mm anew at each visit. */
  driftFromMmPerHectare: number;
  /** Its other end. */
  driftToMmPerHectare: number;
}

/** The word for one and for several of what is counted. */
export interface CountUnit {
  /** "turn" */
  one: string;
  /** "turns" */
  other: string;
}

/** One event on its way to one hook. */
export interface Delivery {
  /** Resource name, `hooks/{hook}/deliveries/{delivery}`; {delivery} is the event's id, and the header
   * `webhook-id`. */
  name: string;
  /** What it tells of. */
  event: HookEvent;
  /** The job that it is of, `planters/{planter}/jobs/{job}`. */
  job: string;
  /** What has become of it. */
  state: DeliveryState;
  /** How often it was sent. */
  attempts: number;
  /** When it is sent next, at the earliest; absent where it ended, or waits for one before it. */
  nextAttemptTime?: string;
  /** HTTP status of the last answer; 0 where there was none. */
  lastStatus: number;
  /** Why the last attempt failed, for people; empty where none did. */
  problem: string;
  /** What is sent: the event as JSON text, byte by byte. */
  body: string;
  /** When it happened. */
  createTime?: string;
  /** When it arrived or was given up; absent while it waits. */
  endTime?: string;
}

/** What has become of a delivery. */
export type DeliveryState = "STATE_UNSPECIFIED" | "WAITING" | "DELIVERED" | "DEAD";

/** Seed depths of one visit to one field. */
export interface Dig {
  /** Resource name, `planters/{planter}/digs/{dig}`. */
  name: string;
  /** The field and the place in it, for people, at most 200 characters. */
  title: string;
  /** Who dug, at most 100 characters. */
  person: string;
  /** When, by the digger's clock. */
  digTime?: string;
  /** The seeds, 2 to 120 rows, each number once. */
  rows: RowSeeds[];
  /** Wanted planting depth, mm, 1 to 300; left out: not known. */
  targetMm?: number;
  /** Remarks: soil, speed, down force; at most 1,000 characters. */
  comment: string;
  /** When it was kept. */
  createTime?: string;
  /** The seeds as text, instead of `rows`; answers have `rows`. */
  pasted?: PastedSeeds;
}

/** What dug seeds say. */
export interface DigAnalysis {
  /** How it was computed, in words. */
  method: string;
  /** Number of seeds. */
  seeds: number;
  /** Mean depth of all seeds, mm. */
  meanMm: number;
  /** Standard deviation of all seeds, mm. */
  sdMm: number;
  /** Coefficient of variation, percent; absent where the mean is not above 0. */
  cvPercent?: number;
  /** Share of seeds within `withinMm` of the target, 0 to 1; absent without a target. */
  shareWithin?: number;
  /** Half of that band, mm. */
  withinMm: number;
  /** Between-row component of variance, mm²; it may come out negative, and then counts as 0. */
  betweenVarianceMm2: number;
  /** Within-row component of variance, mm²: what one row's own seeds differ by, rows that are set apart left out. */
  withinVarianceMm2: number;
  /** F of the analysis of variance; absent where the seeds of no row differ. */
  f?: number;
  /** Chance of such an F were all rows alike. */
  p: number;
  /** The rows, by rising number. */
  rows: DigRow[];
  /** What to correct in the field; absent where nothing was asked of a planter. */
  plan?: Plan;
  /** What the rows' differences may cost in time to emergence. */
  emergence?: Emergence;
  /** What to mind. */
  cautions: string[];
  /** F of the Brown-Forsythe test whether the seeds of all rows scatter alike, 0 or more; absent where fewer than two
   * rows have two seeds. */
  scatterF?: number;
  /** Chance of such an F did they all scatter alike, 0 to 1; absent with it. */
  scatterP?: number;
  /** The unit that its words say lengths in. */
  lengthUnit: LengthUnit;
}

/** What the seeds of one row say. */
export interface DigRow {
  /** Row number. */
  row: number;
  /** Number of seeds. */
  seeds: number;
  /** Mean depth, mm. */
  meanMm: number;
  /** Interval of the row's mean at the wanted confidence, mm. */
  meanFromMm: number;
  /** Its other end. */
  meanToMm: number;
  /** How much deeper than the average row this row truly plants, mm: its difference shrunk by what its own
   * seeds scatter. */
  effectMm: number;
  /** Standard uncertainty of `effectMm`, mm. */
  uncertaintyMm: number;
  /** Verdict on the row against the mean of all rows. */
  verdict: Verdict;
  /** The fewest further seeds of this row that would settle it if its effect stays, 1 to 50; 0: it is settled,
   * or not within 50. */
  seedsToSettle: number;
  /** The reason in words. */
  why: string;
  /** Standard deviation of the row's own seeds, mm, 0 or more; absent where one seed was dug. */
  scatterMm?: number;
  /** Its interval at the wanted confidence, mm; absent with it. */
  scatterFromMm?: number;
  /** The interval's other end. */
  scatterToMm?: number;
  /** The row's variance over the pooled one of the others that are not set apart; absent where it cannot be told:
   * one seed, fewer than two other rows of two seeds, or others whose seeds do not differ. */
  scatterF?: number;
  /** Chance of such an F did the row scatter like the others, 0 to 1; absent with it. */
  scatterP?: number;
  /** The row stands on its own scatter (scatter_p was at most 0.05), not on that of all rows, and the plan moves it only
   * where it is OFF by that. */
  setApart: boolean;
  /** Set apart, and more than chance with all rows looked at together: scatter is the trouble, not depth. */
  bounces: boolean;
}

/** Edge rows against the others. */
export interface EdgeWear {
  /** The rows that count as edge rows. */
  rows: number[];
  /** Mean drift of the edge rows minus that of the others, mm a hectare. */
  differenceMmPerHectare: number;
  /** Interval of the difference at the wanted confidence. */
  differenceFromMmPerHectare: number;
  /** Its other end. */
  differenceToMmPerHectare: number;
  /** Chance of such a difference were they alike. */
  p: number;
}

/** What a spread in depth may cost, as a guide for corn: published figures differ by soil and season. */
export interface Emergence {
  /** Largest minus smallest shrunk depth of the rows, mm. */
  spreadMm: number;
  /** The part of it that lies deeper than the depth from which on figures were published, mm. */
  countedMm: number;
  /** That part in degree days (°C). */
  degreeDays: number;
  /** In days; absent where the field's daily degree days are not given. */
  days?: number;
  /** Degree days (°C) for each mm of depth that were used. */
  degreeDaysPerMm: number;
  /** Where the figures come from. */
  sources: Source[];
  /** What it comes to, in words. */
  guide: string;
  /** What it is not. */
  cautions: string[];
}

/** A row that is signed although it is not proven even, with the reason. */
export interface Exception {
  /** The row; 0 with `unproven`. */
  row: number;
  /** All rows that this fixture cannot prove, instead of one row. */
  unproven: boolean;
  /** Why it is good enough, 1 to 500 characters. */
  reason: string;
}

/** The same count on every row of a mechanism. */
export interface FieldMove {
  /** The change that was asked for, mm. */
  deltaMm: number;
  /** The change that the rows' mean will make, mm. */
  meanChangeMm: number;
  /** Largest minus smallest depth now, mm. */
  spreadBeforeMm: number;
  /** Largest minus smallest depth afterwards, mm, over the rows that move as asked. */
  spreadAfterMm: number;
  /** The rows' mean change comes within half the coarsest step of what was asked. */
  reached: boolean;
  /** What to do, mechanism by mechanism. */
  mechanisms: GroupMove[];
  /** Every row, by rising number. */
  rows: FieldRowMove[];
  /** What to mind: rows that run out of travel, rows that are only trimmed, what is an estimate, and safety. */
  cautions: string[];
  /** The unit that its words say lengths in. */
  lengthUnit: LengthUnit;
}

/** What a field move does to one row. */
export interface FieldRowMove {
  /** Row number. */
  row: number;
  /** Depth expected afterwards, mm: an estimate from the row's learned scale. */
  depthMm: number;
  /** Standard uncertainty of the expected change, mm. */
  uncertaintyMm: number;
  /** Expected change, mm. */
  changeMm: number;
  /** The setting afterwards; absent where it is not known. */
  settingAfter?: Values;
  /** The count is beyond this row's travel: it stops short, at the end of it. */
  outOfTravel: boolean;
  /** The row's mechanism only trims; its planting depth is set elsewhere. */
  trimmedOnly: boolean;
}

/** A measuring fixture. */
export interface Fixture {
  /** Resource name, `fixtures/{fixture}`. */
  name: string;
  /** Its name for people, 1 to 200 characters. */
  displayName: string;
  /** How its number becomes a depth. */
  kind: FixtureKind;
  /** Spacing of the ruling, mm, 0 to 300; default 1.5875 (1/16 inch). */
  resolutionMm?: number;
  /** Standard deviation of repeated readings, mm, 0 to 300; default 0.5, with BLOCKS 0.8. */
  repeatabilityMm?: number;
  /** Standard uncertainty from the floor's unevenness, mm, 0 to 300; default 0, with BLOCKS 1.0. */
  floorMm?: number;
  /** BLOCKS: height of the blocks, mm, required there. Others: what is added to the number, default 0. */
  zeroMm?: number;
  /** Changes with every change. Required by updates. */
  etag: string;
  /** When it was created. */
  createTime?: string;
  /** When it was last changed. */
  updateTime?: string;
  /** Standard deviation between people who read with it, mm, 0 to 300, as its study found; left out: not studied by
   * three people or more. */
  reproducibilityMm?: number;
}

/** How a fixture's number becomes a depth. */
export type FixtureKind = "KIND_UNSPECIFIED" | "WINDOW" | "BLOCKS" | "POINTER_PLATE";

/** What a study says of a fixture. */
export interface FixtureStudy {
  /** How it was computed, in words: methods differ in their numbers. */
  method: string;
  /** Standard deviation of one person's repeated readings of one row, the ruling's rounding included, mm. */
  repeatabilityMm: number;
  /** Its degrees of freedom. */
  degreesOfFreedom: number;
  /** Standard deviation between people, mm; 0 where one person read. */
  reproducibilityMm: number;
  /** Standard deviation between rows, mm. */
  rowToRowMm: number;
  /** Standard deviation of repeated readings before the ruling rounds them, mm: what `repeatabilityMm` of a
   * fixture is. */
  scatterMm: number;
  /** The smallest tolerance that it proves, by number of readings of a row, 1 to 5. */
  provable: ProvableTolerance[];
  /** Readings of a row that the wanted tolerance takes; 0: no number within 20 does. */
  readingsNeeded: number;
  /** In words. */
  verdict: string;
  /** The fixture, where `apply` changed it. */
  fixture?: Fixture;
  /** What to mind. */
  cautions: string[];
  /** The unit that its words say lengths in. */
  lengthUnit: LengthUnit;
}

/** What to do to every row of one mechanism. */
export interface GroupMove {
  /** Id of the mechanism. */
  mechanism: string;
  /** Counts on every row; positive is deeper. */
  count: number;
  /** The word for the counts: "turns", "notches". */
  unit: string;
  /** Numbers of its rows. */
  rows: number[];
}

/** An address that hears of a shop's jobs. */
export interface Hook {
  /** Resource name, `hooks/{hook}`. */
  name: string;
  /** Where events are sent: an http:// or https:// address, at most 2,000 characters, without user and password.
   * Addresses of this machine and of private networks are refused unless the service was started with
   * `--hooks-to-private`. */
  url: string;
  /** What it hears of, at least one. */
  events: HookEvent[];
  /** Nothing is sent while this is so; what happens meanwhile waits. */
  paused: boolean;
  /** `whsec_` and the secret in base64, 32 bytes. Only in the answer that made it. */
  secret: string;
  /** Until then deliveries are signed with the secret before as well; absent where there is none. */
  oldSecretUntil?: string;
  /** Changes with every change of the hook. */
  etag: string;
  /** When it was registered. */
  createTime?: string;
  /** When it was last changed. */
  updateTime?: string;
}

/** What a hook hears of. */
export type HookEvent = "HOOK_EVENT_UNSPECIFIED" | "JOB_OPENED" | "JOB_PLAN" | "JOB_SIGNED" | "PART_LIMIT";

/** A planter at a glance. */
export interface IndexCard {
  /** `planters/{planter}`. */
  planter: string;
  /** Its name for people. */
  displayName: string;
  /** The job that was signed last; empty: none yet, and only `fieldMoves` are of use. */
  job: string;
  /** Who signed it. */
  person: string;
  /** When. */
  signTime?: string;
  /** The depth that its rows were brought to, in that job's fixture's numbers, mm. */
  datumMm?: number;
  /** Largest minus smallest depth as left, mm. */
  spreadMm?: number;
  /** The rows as that job left them, by rising number. */
  rows: IndexCardRow[];
  /** Marks of the mechanisms that keep them. */
  marks: MechanismMarks[];
  /** Field moves for common changes of planting depth, by rising change. */
  fieldMoves: FieldMove[];
  /** The unit that the planter's people read lengths in. */
  lengthUnit: LengthUnit;
}

/** One row on an index card. */
export interface IndexCardRow {
  /** Row number. */
  row: number;
  /** Depth as left minus the datum, mm; positive is deeper; absent where it is not known. */
  offsetMm?: number;
  /** Standard uncertainty of that depth, mm. */
  uncertaintyMm?: number;
  /** Read after its last move; otherwise predicted, an estimate. */
  measured: boolean;
  /** Verdict at the datum. */
  verdict: Verdict;
  /** The reason that the row was signed with although it was not proven even; empty: none. */
  exception: string;
  /** Where it stands. */
  setting?: Values;
}

/** One point inspected on one row. */
export interface Inspection {
  /** Row number. */
  row: number;
  /** Id of the style's inspection point. */
  point: string;
  /** The figure, in the point's unit; absent for a point judged by eye. */
  value?: number;
  /** Judged worn out; for a point with a limit, follows from it. */
  worn: boolean;
  /** In words, at most 500 characters. */
  comment: string;
}

/** A point to inspect on a row unit, with its limit. */
export interface InspectionPoint {
  /** Id within the style. */
  id: string;
  /** What is inspected. */
  title: string;
  /** Unit of the limit: "mm", or empty for a point judged by eye. */
  unit: string;
  /** The limit, in `unit`; absent for a point judged by eye. */
  limit?: number;
  /** On which side of the limit the part is worn out. */
  worseWhen: WorseWhen;
  /** How to inspect it and what to do past the limit. */
  guidance: string;
}

/** One visit of one planter. */
export interface Job {
  /** Resource name, `planters/{planter}/jobs/{job}`. */
  name: string;
  /** The fixture that takes the readings, `fixtures/{fixture}`; empty: the defaults of a window fixture. */
  fixture: string;
  /** The shop's work order, at most 100 characters. */
  workOrder: string;
  /** Ids of the shop's own systems, at most 20, each at most 100 characters. */
  externalIds: Record<string, string>;
  /** What plans are to reach; left out: the defaults. */
  aim?: Aim;
  /** The travel that every row must keep; left out: the planter's. */
  reach?: Reach;
  /** Which rows must be read again after a move. */
  verify: JobVerify;
  /** What the job has come to. */
  stage: JobStage;
  /** Number of the job's last event; 1 is its opening. */
  revision: number;
  /** Changes with every event. Required by `:plan` and `:sign`. */
  etag: string;
  /** When it was opened. */
  createTime?: string;
  /** When its last event came. */
  updateTime?: string;
  /** What follows from its events; absent in lists. */
  state?: JobState;
  /** Hectares that the planter has planted in all by this visit, 0 to 1,000,000: what wear is told against;
   * left out: not known. */
  hectares?: number;
  /** The unit that its words say lengths in, always set in answers. Left out on opening: the planter's; where it has
   * none, inches where the fixture is ruled in a power of two of an inch, else the unit that the last reading was
   * typed in. */
  lengthUnit: LengthUnit;
  /** The unit that its words say areas in, always set in answers. Left out on opening: the planter's, else hectares. */
  areaUnit: AreaUnit;
  /** The area that the planter has planted in all by this visit as it was typed, in `areaUnit`: given in place of
   * `hectares`, which then follows from it. */
  plantedArea?: number;
}

/** What happened, once. One of `opened`, `reading`, `move`, `partChange`, `inspection`, `note`, `strike`, `cautionTick`, `planIssued`, `signature`, `voided`. */
export interface JobEvent {
  /** Place in the job, from 1. */
  revision: number;
  /** When the service took it. */
  createTime?: string;
  /** When it happened by the writer's clock; absent where the writer gave none. */
  eventTime?: string;
  /** Who did it. */
  person: string;
  /** Revision of the event that struck this one; 0 where it stands. */
  struckBy: number;
  /** The job was opened. */
  opened?: Opened;
  /** A row was read. */
  reading?: Reading;
  /** A row was moved. */
  move?: MoveDone;
  /** A part was changed. */
  partChange?: PartChange;
  /** A point was inspected. */
  inspection?: Inspection;
  /** A note was made. */
  note?: Note;
  /** An earlier event was struck. */
  strike?: Strike;
  /** A caution was ticked. */
  cautionTick?: CautionTick;
  /** A plan was issued. */
  planIssued?: PlanIssued;
  /** The job was signed. */
  signature?: Signature;
  /** The job was voided. */
  voided?: Voided;
}

/** What a job has come to. */
export type JobStage = "STAGE_UNSPECIFIED" | "OPEN" | "SIGNED" | "VOIDED" | "CONTENT_CHANGED";

/** What follows from a job's events: all that a client compares with, so that it computes nothing itself. */
export interface JobState {
  /** Every row of the planter, by rising number. */
  rows: RowState[];
  /** The datum of the job's last plan, mm; absent before the first. */
  datumMm?: number;
  /** Half of the allowed band, mm. */
  toleranceMm: number;
  /** Spread of the rows' present estimates, mm; absent while fewer than two rows are read. */
  spreadMm?: number;
  /** The smallest tolerance that the readings so far could prove on every read row, mm; absent before the
   * first reading. */
  provableToleranceMm?: number;
  /** Scatter of readings as pooled from this job, mm. */
  repeatabilityMm: number;
  /** The plan last issued; absent before the first. Its moves may be done since: see each row's `next`. */
  plan?: Plan;
  /** Revision of the event that issued it; 0 before the first. */
  planRevision: number;
  /** The cautions to tick before the first reading and before signing, each with who ticked it when. */
  cautions: CautionState[];
  /** Marks once levelled, from the settings as they now stand. */
  marks: MechanismMarks[];
  /** What to mind: surprising readings, rows with unknown settings, readings that scatter more than the fixture's
   * repeatability lets them. */
  warnings: string[];
  /** The signature; absent while open. */
  signature?: Signature;
  /** Why it was voided; empty unless voided. */
  voidReason: string;
  /** What stands in the way of signing, each a sentence; empty where it may be signed. */
  signingNeeds: string[];
  /** Inspections in force, by row and point. */
  inspections: Inspection[];
  /** Chance that all rows that are neither stuck nor excepted lie within tolerance of the datum at once, as
   * they stand, 0 to 1, to 0.001; absent without a datum, and while fewer than two rows are known. */
  planterChance?: number;
  /** Largest minus smallest true depth of the rows that `spreadMm` is of; absent while fewer than two are known. */
  trueSpreadMm?: TrueSpread;
  /** `planterChance` of the rows as they were first found, by all that was read since. */
  planterChanceFound?: number;
  /** `trueSpreadMm` of the rows as they were first found, by all that was read since. */
  trueSpreadFoundMm?: TrueSpread;
}

/** Which rows must be read again after they were moved. */
export type JobVerify = "VERIFY_UNSPECIFIED" | "MOVED" | "WHEN_NEEDED";

/** The unit that a length is typed in, and that words say lengths in. */
export type LengthUnit = "LENGTH_UNIT_UNSPECIFIED" | "MM" | "IN";

/** One page of the trail. */
export interface ListAuditEntriesResponse {
  /** The entries, newest first. */
  auditEntries: AuditEntry[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** What changed. */
export interface ListChangesResponse {
  /** In the order in which it was written. */
  changes: Change[];
  /** To pass next time, now or later; the same as was passed where nothing changed. */
  cursor: string;
  /** Whether there is more to ask for at once. */
  more: boolean;
}

/** A page of deliveries. */
export interface ListDeliveriesResponse {
  /** Newest first. */
  deliveries: Delivery[];
  /** Empty on the last page. */
  nextPageToken: string;
}

/** A page of digs. */
export interface ListDigsResponse {
  /** By id. */
  digs: Dig[];
  /** Empty on the last page. */
  nextPageToken: string;
}

/** One page of fixtures. */
export interface ListFixturesResponse {
  /** The fixtures, by id. */
  fixtures: Fixture[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** A page of hooks. */
export interface ListHooksResponse {
  /** By id. */
  hooks: Hook[];
  /** Empty on the last page. */
  nextPageToken: string;
}

/** One page of events. */
export interface ListJobEventsResponse {
  /** The events, in order. */
  events: JobEvent[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** One page of jobs. */
export interface ListJobsResponse {
  /** The jobs, newest first. */
  jobs: Job[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** One page of planters. */
export interface ListPlantersResponse {
  /** The planters, by id. */
  planters: Planter[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** One page of styles. */
export interface ListStylesResponse {
  /** The styles, by name. */
  styles: Style[];
  /** Token of the next page; empty on the last. */
  nextPageToken: string;
}

/** One line of a row's table. */
export interface MarkTableEntry {
  /** Depth of the reference row, mm. */
  depthMm: number;
  /** The setting of this row that comes nearest to it. */
  setting?: Values;
}

/** A style with its figures, as fitted to a group of rows of one planter. */
export interface Mechanism {
  /** The caller's own id for it, unique in its list, not empty, at most 63 characters. */
  id: string;
  /** Id of the style that serves it: `threaded-handle`. */
  style: string;
  /** Its figures, as the style's `figuresSchema` asks for them. */
  figures: Values;
}

/** The marks of one mechanism's rows once all are level. */
export interface MechanismMarks {
  /** Id of the mechanism. */
  mechanism: string;
  /** Number of the row that the marks count from. */
  referenceRow: number;
  /** The rows that carry a mark, by rising number. */
  rows: RowMark[];
}

/** What to do to one row's mechanism. */
export interface Move {
  /** Nominal change of depth, mm; positive is deeper. */
  effectMm: number;
  /** How many counts; positive is deeper for what is turned or stepped; for shims the number in the
   * stack after minus before. */
  count: number;
  /** The word for the counts: "turn", "notches". */
  unit: string;
  /** The setting afterwards; absent where the setting as found is not known. */
  settingAfter?: Values;
  /** The words to do it by, safe to read aloud. */
  say: string;
}

/** One move of one row's mechanism. */
export interface MoveDone {
  /** Row number. */
  row: number;
  /** Where the row stood; refused if that is no longer so. Left out only where nobody knows. */
  settingBefore?: Values;
  /** Counts moved, as in a plan's move. */
  count?: number;
  /** Where it stands now; may replace `count`. */
  settingAfter?: Values;
  /** The row's `lastMove` that the writer knew; required where the setting is not known. */
  afterMove?: number;
  /** Nominal change of depth, mm. */
  effectMm: number;
}

/** What to do next at one row. */
export type NextStep = "NEXT_STEP_UNSPECIFIED" | "READ" | "READ_AGAIN" | "MOVE" | "READ_AFTER_MOVE" | "DONE" | "EXCEPT" | "PLAN";

/** A note, about a row or the job. */
export interface Note {
  /** Row number; 0: the job. */
  row: number;
  /** 1 to 2,000 characters. */
  text: string;
}

/** The copy that a job is worked from. */
export interface Opened {
  /** The planter as it was. */
  planter?: Planter;
  /** The fixture as it was. */
  fixture?: Fixture;
}

/** A one-time code. */
export interface Pairing {
  /** The code, also in the picture. */
  code: string;
  /** The path to open on the phone: `/pair#CODE`. */
  path: string;
  /** The full address as a QR picture, SVG; the address is the one that the caller used. */
  qrSvg: string;
  /** When the code ends. */
  expireTime?: string;
}

/** Parts of a row that were changed. */
export interface PartChange {
  /** Row number. */
  row: number;
  /** Which part, in words, 1 to 200 characters; the id of an inspection point, or its title in any language, ends that part's trend. */
  part: string;
}

/** The trend of one inspected part. */
export interface PartWear {
  /** Row number. */
  row: number;
  /** Id of the inspection point, of the row's style. */
  point: string;
  /** Its title for people. */
  title: string;
  /** Its unit. */
  unit: string;
  /** The value last noted. */
  last: number;
  /** Its limit; absent where the style gives none. */
  limit?: number;
  /** Past its limit. */
  worn: boolean;
  /** Visits since it was last changed. */
  visits: number;
  /** Whether that is enough history for the hectares below: three visits. */
  enough: boolean;
  /** Hectares until its limit, at the soonest; absent where the history is not enough, there is no limit, or it
   * does not come to that. */
  hectaresLeftFrom?: number;
  /** At the latest; absent where that has no end. */
  hectaresLeftTo?: number;
}

/** Seeds as lines of text: a row number, then depths; separated by semicolons, tabs, spaces or commas. A comma
 * that may be a decimal sign or a separator ("1 50,5 52,1") is refused, except where a line has semicolons or
 * tabs: there it is a decimal sign. A first line without figures is a heading. */
export interface PastedSeeds {
  /** The lines, at most 64 KiB. */
  text: string;
  /** The unit of depths that say none. Depths may be fractions and have units: "1 7/8", "2-1/4 in", "47.6 mm". */
  unit: LengthUnit;
}

/** A datum, and one option for every row. */
export interface Plan {
  /** The common depth that the plan brings all rows to, in the fixture's own numbers, mm. */
  datumMm: number;
  /** Largest minus smallest estimate of the rows that are not stuck, mm; 0 if there are none. */
  spreadBeforeMm: number;
  /** Largest minus smallest predicted depth of the rows that are not stuck, mm; 0 if there are none. */
  spreadAfterMm: number;
  /** How many rows are moved. */
  touchedRows: number;
  /** How many rows are left to be read again. */
  rereadRows: number;
  /** Time at the planter, seconds: every move at what its mechanism says it takes, one reading after it
   * included, and every further reading at the aim's `readSeconds`. What rows that cannot be proven are
   * worth is not in it. */
  workSeconds: number;
  /** The smallest tolerance that these readings could prove on every row that is not stuck, mm. */
  provableToleranceMm: number;
  /** Chance that all rows that are not stuck lie within tolerance of the datum at once, as found, 0 to 1,
   * to 0.001; 1 where there are none. Of the rows it takes that they are of one population, so that it is
   * not the product of their own chances. */
  planterChance: number;
  /** The same as planned, before a moved row is read again. */
  planterChanceAfter: number;
  /** Largest minus smallest true depth of the rows that are not stuck, as found: what `spreadBeforeMm`
   * leaves to be known of it. */
  trueSpreadMm?: TrueSpread;
  /** The same as planned, before a moved row is read again. */
  trueSpreadAfterMm?: TrueSpread;
  /** Every requested row, by rising number. */
  rows: RowPlan[];
  /** The smallest spread that can be reached by touching at most so many rows; a number of rows that can
   * reach nothing is left out. */
  tradeoff: TradeoffPoint[];
  /** Marks of every mechanism that keeps them. */
  marks: MechanismMarks[];
  /** What to mind: about the request, the readings, the rows, and safety. */
  cautions: string[];
}

/** A plan as issued. */
export interface PlanIssued {
  /** The plan. */
  plan?: Plan;
  /** Whether its datum was free: not held by rows that were moved, or read again after a plan, and are even. */
  free: boolean;
}

/** A row-crop planter. */
export interface Planter {
  /** Resource name, `planters/{planter}`. */
  name: string;
  /** Its name for people, 1 to 200 characters. */
  displayName: string;
  /** Whose it is, at most 200 characters. */
  owner: string;
  /** Distance between rows, mm, above 0, at most 3,000; left out: not known. */
  rowSpacingMm?: number;
  /** Its mechanisms, 1 to 120. */
  mechanisms: Mechanism[];
  /** Its rows, 1 to 120, each number once. */
  rows: PlanterRow[];
  /** Its sections, at most 12, none overlapping; empty: one section. */
  sections: Section[];
  /** Ids of the shop's own systems, at most 20, each at most 100 characters. */
  externalIds: Record<string, string>;
  /** Travel that its rows must keep for the season. */
  reach?: Reach;
  /** Rows that marks count from, at most one a mechanism. */
  referenceRows: number[];
  /** Changes with every change. Required by updates. */
  etag: string;
  /** When it was created. */
  createTime?: string;
  /** When it was last changed. */
  updateTime?: string;
  /** The unit that its words say lengths in, and that new jobs take; left out: that of the job that was signed
   * last, which is its fixture's and what was typed; mm before the first. */
  lengthUnit: LengthUnit;
  /** The unit that its words say areas in, and that new jobs take; left out: that of the visit that was signed last,
   * hectares before the first. */
  areaUnit: AreaUnit;
}

/** One row of a planter. */
export interface PlanterRow {
  /** Row number, 1 = left, seen from behind looking in the direction of travel; 1 to 1,000. */
  row: number;
  /** Id of its mechanism. */
  mechanism: string;
  /** Where it stands, as last known; left out: nobody knows. */
  setting?: Values;
  /** Its rank. */
  rank: Rank;
  /** Real travel over nominal travel, as learned by the last signed job; absent: not learned. */
  scale?: number;
  /** Standard deviation of `scale`. */
  scaleSd?: number;
  /** Depth as the last signed job left it, mm, in that job's fixture's numbers. */
  asLeftMm?: number;
}

/** What a number of readings can prove. */
export interface ProvableTolerance {
  /** Readings of a row. */
  readings: number;
  /** The smallest tolerance that they prove where one person reads all rows, mm. */
  toleranceMm: number;
  /** The same where rows are read by different people, mm; absent where fewer than three people read. */
  severalPeopleMm?: number;
}

/** Where a row stands on a frame that carries two ranks. */
export type Rank = "RANK_UNSPECIFIED" | "FRONT" | "REAR";

/** The travel that every row whose setting is known and whose mechanism sets planting depth must keep. */
export interface Reach {
  /** Nominal travel that must be left towards shallower, mm, 0 or more; default 0. */
  shallowerMm?: number;
  /** Nominal travel that must be left towards deeper, mm, 0 or more; default 0. */
  deeperMm?: number;
}

/** One fixture number taken on one row. */
export interface Reading {
  /** Row number. */
  row: number;
  /** The number as typed, in `unit`, before the fixture's conversion. The depth it means must lie from -20
   * to 300 mm. */
  value: number;
  /** The unit it was typed in. */
  unit: LengthUnit;
  /** The side that was read, where the fixture reads sides. */
  side: Side;
  /** The row's `lastMove` that the writer knew; 0 before the first. */
  afterMove: number;
  /** Depth that it means, mm. */
  depthMm: number;
}

/** A phone's own key. */
export interface RedeemPairingResponse {
  /** The key: the bearer token of further calls. Empty over HTTP, where it is a cookie. */
  key: string;
  /** What it may do. */
  session?: Session;
}

/** What a key may do; each role may do what the ones before it may. */
export type Role = "ROLE_UNSPECIFIED" | "READER" | "TECHNICIAN" | "OWNER";

/** Where a row's handle stands when all rows are level, relative to the reference row. */
export interface RowMark {
  /** Row number. */
  row: number;
  /** Counts from the reference row's setting to this row's; absent where the row needs a table. */
  count?: number;
  /** Predicted depth minus datum, mm: what the mechanism's steps leave. */
  residualMm: number;
  /** Settings by depth, where one count would be wrong over the field's range; by rising depth. */
  table: MarkTableEntry[];
}

/** What the plan does with one row. */
export interface RowPlan {
  /** Row number. */
  row: number;
  /** Depth as found, mm: the mean of the readings. */
  estimateMm: number;
  /** Standard uncertainty of `estimateMm`, mm. */
  uncertaintyMm: number;
  /** Verdict on the row as found, at the plan's datum. */
  verdict: Verdict;
  /** Chance that the row as found is within tolerance of the datum, 0 to 1. */
  chance: number;
  /** What to do; absent where the row is left alone. */
  move?: Move;
  /** Depth expected with the chosen option, leave included, mm; absent for a stuck row. */
  predictedMm?: number;
  /** Chance that the row will then be within tolerance of the datum, 0 to 1, before it is read there;
   * absent for a stuck row. */
  predictedChance?: number;
  /** For a row to be read again: the fewest further readings, 1 to 20, that prove it even at this datum if
   * its mean stays; 0: not a row to be read again. */
  readingsToSettle: number;
  /** The reason in words: left, moved, read again or stuck because… */
  why: string;
  /** Whether the row is expected to be proven even: as it stands, by the further readings asked for, or moved
   * and read once in its new place. */
  expectedEven: boolean;
}

/** The seeds of one row. */
export interface RowSeeds {
  /** Row number, 1 to 1,000. */
  row: number;
  /** Depths from the soil's surface to the seed, mm, 0 to 300, 1 to 200 of them. */
  depthsMm: number[];
}

/** One row of a job as it stands. */
export interface RowState {
  /** Row number. */
  row: number;
  /** Id of its mechanism. */
  mechanism: string;
  /** Where it stands now; absent where nobody knows. */
  setting?: Values;
  /** Revision of its last move or part change, 0 before the first: what a reading gives as `afterMove`. */
  lastMove: number;
  /** Depth as first estimated in this job, mm; absent before its first reading. */
  asFoundMm?: number;
  /** Standard uncertainty of `asFoundMm`, mm. */
  asFoundUncertaintyMm?: number;
  /** Depth now, mm: read, or predicted where moved and not read since. */
  estimateMm?: number;
  /** Standard uncertainty of `estimateMm`, mm. */
  uncertaintyMm?: number;
  /** Whether `estimateMm` rests on a reading of the present stay; false: predicted. */
  measured: boolean;
  /** Real travel over nominal travel, as learned. */
  scale: number;
  /** Standard deviation of `scale`. */
  scaleSd: number;
  /** How many readings of the present stay count. */
  readings: number;
  /** Verdict at the job's datum; unspecified before there is one. */
  verdict: Verdict;
  /** Chance that the row is within tolerance of the datum. */
  chance?: number;
  /** A first reading of the row where it stands now, of this depth or deeper, makes it even; absent without a
   * datum, where no depth can be proven even, and once the row was read where it stands: then a range could
   * not be promised. */
  evenFromMm?: number;
  /** A first reading of the row where it stands now, of this depth or shallower, makes it even. */
  evenToMm?: number;
  /** What to do next. */
  next: NextStep;
  /** The plan's move, where it is to be done. */
  move?: Move;
  /** Why, in words. */
  why: string;
  /** Difference between left and right readings of this stay, mm (left minus right); absent unless both
   * were read. */
  sideDifferenceMm?: number;
  /** Reason of the exception in a signed job; empty otherwise. */
  exception: string;
  /** `estimateMm` minus the median of the other rows' estimates, mm; absent while no other row is read. */
  fromOthersMm?: number;
  /** `estimateMm` minus the job's datum, mm; absent without a datum. */
  fromDatumMm?: number;
  /** `evenFromMm` to `evenToMm` as numbers on the fixture, before its conversion, the smaller first, mm:
   * what a number as typed is compared with. */
  evenNumberFromMm?: number;
  /** The larger of the two. */
  evenNumberToMm?: number;
}

/** The drift of one row. */
export interface RowWear {
  /** Row number. */
  row: number;
  /** Visits since its last changed part. */
  visits: number;
  /** Drift relative to the rows' middle, mm a hectare; positive is deeper; absent where the history is not
   * enough: fewer than three visits. */
  driftMmPerHectare?: number;
  /** Interval of the drift at the wanted confidence. */
  driftFromMmPerHectare?: number;
  /** Its other end. */
  driftToMmPerHectare?: number;
  /** The row wears unlike the rest. */
  unlike: boolean;
  /** Hectares until its travel, less the season's reach, is used up by its drift and that of all rows, at the
   * soonest; absent where the history is not enough, `common` is absent, or it does not come to that. */
  hectaresLeftFrom?: number;
  /** At the latest; absent where that has no end. */
  hectaresLeftTo?: number;
  /** In words; "not enough history" where so. */
  why: string;
  /** How the visit before the last left the row, mm below the median of the rows of both visits; this and the
   * next four are told from the second visit on, absent where the row is not in both. */
  lastLeftMm?: number;
  /** How the last visit found it, mm below the same rows' median then. */
  foundMm?: number;
  /** The one less the other; positive is deeper. */
  foundChangeMm?: number;
  /** Its interval at the wanted confidence. */
  foundChangeFromMm?: number;
  /** Its other end. */
  foundChangeToMm?: number;
}

/** A section of the frame, folding or not. */
export interface Section {
  /** Its name for people, 1 to 100 characters. */
  title: string;
  /** Its lowest row number. */
  firstRow: number;
  /** Its highest row number. */
  lastRow: number;
}

/** Whose key a call carries. */
export interface Session {
  /** The shop's id. */
  shop: string;
  /** What the key may do. */
  role: Role;
  /** The key's label: a person or a device. */
  label: string;
  /** When the key ends; absent: never. */
  expireTime?: string;
  /** The one job that the key reads, `planters/{planter}/jobs/{job}`; empty for other keys. */
  job: string;
}

/** A link that reads one job. */
export interface Share {
  /** The bearer token that reads the job. */
  key: string;
  /** The path to open: `/share#KEY`. */
  path: string;
  /** When it ends. */
  expireTime?: string;
}

/** The side of a row unit. */
export type Side = "SIDE_UNSPECIFIED" | "LEFT" | "RIGHT";

/** A signature under a job. */
export interface Signature {
  /** Who signed. */
  person: string;
  /** When, by the service's clock. */
  signTime?: string;
  /** SHA-256 over the canonical content of the job up to the signature, in hexadecimal: a changed sheet
   * shows. */
  contentHash: string;
  /** The exceptions signed with. */
  exceptions: Exception[];
}

/** A published source. */
export interface Source {
  /** Author, title, year. */
  title: string;
  /** What was taken from it, or what it warns of. */
  figure: string;
}

/** The strike of an earlier event. */
export interface Strike {
  /** Revision of the event struck. */
  revision: number;
  /** Why, at most 500 characters. */
  reason: string;
}

/** A kind of depth-adjusting mechanism; one adjuster serves one style. */
export interface Style {
  /** Resource name, `styles/{style}`: `styles/threaded-handle`. */
  name: string;
  /** The style's name for people. */
  title: string;
  /** Version of the adjuster, as its maker counts it. */
  version: string;
  /** The word for what is counted. */
  countUnit?: CountUnit;
  /** Whether handles of this style are marked, so that in the field every row moves the same count. */
  keepsMarks: boolean;
  /** Whether it sets planting depth in the field; false where it only trims a row. */
  setsPlantingDepth: boolean;
  /** JSON Schema (draft 2020-12) of a mechanism's figures. */
  figuresSchema?: Values;
  /** JSON Schema (draft 2020-12) of a row's setting. */
  settingSchema?: Values;
  /** Prior standard deviation of a row's scale (real travel over nominal travel), 0 or more. */
  scaleSd: number;
  /** Standard deviation of how a row seats after any move, mm, 0 or more. */
  seatingMm: number;
  /** Lost motion when the direction of a move is reversed, mm, 0 or more. */
  slackMm: number;
  /** The direction in which every move ends. */
  approach: Approach;
  /** Getting at one such row, moving it and measuring it again, seconds, above 0. */
  touchSeconds: number;
  /** What a technician inspects on such a row unit. */
  inspectionPoints: InspectionPoint[];
  /** Cautions of this style. */
  cautions: string[];
  /** Whether the adjuster is answering now. */
  state: StyleState;
  /** Why it is not serving, or why a newer program of it is refused while this one goes on, in words; empty
   * where all is well. */
  stateReason: string;
}

/** The state of a style's adjuster. */
export type StyleState = "STYLE_STATE_UNSPECIFIED" | "STARTING" | "SERVING" | "RESTARTING" | "QUARANTINED";

/** One point of the trade-off between rows touched and spread left. */
export interface TradeoffPoint {
  /** At most so many rows touched. */
  touchedRows: number;
  /** The smallest spread that can then be reached, mm. */
  spreadMm: number;
}

/** How far the true depths of some rows are apart, mm, to 0.01: largest minus smallest. */
export interface TrueSpread {
  /** What is to be expected. */
  mean: number;
  /** From here to `to` it lies with a chance of 90 %. */
  from: number;
  /** Up to here. */
  to: number;
}

/** What the readings can say about a row at the datum. */
export type Verdict = "VERDICT_UNSPECIFIED" | "EVEN" | "OFF" | "UNSURE" | "STUCK";

/** The end of a job that came to nothing. */
export interface Voided {
  /** Why, 1 to 500 characters. */
  reason: string;
}

/** Events, and the job after them. */
export interface WatchJobResponse {
  /** The events since the last message, 250 and 1 MiB at most unless a single one is larger; empty in a heartbeat. */
  events: JobEvent[];
  /** The job after them; absent in a heartbeat, and where more events that were missed follow at once. */
  job?: Job;
}

/** What the seasons did to a planter. Rows' drifts are relative to the mean of the middle third of its rows; what
 * these have in common is told beside them where one fixture read three visits. */
export interface Wear {
  /** The visits it rests on, oldest first. */
  visits: WearVisit[];
  /** The rows, by rising number. */
  rows: RowWear[];
  /** The parts with inspections, by row and point. */
  parts: PartWear[];
  /** Edge rows against the others; absent where the history is not enough. */
  edge?: EdgeWear;
  /** How it was computed, in words. */
  method: string;
  /** What to mind. */
  cautions: string[];
  /** The unit that its words say lengths in. */
  lengthUnit: LengthUnit;
  /** The unit that its words say areas in. */
  areaUnit: AreaUnit;
  /** What all rows lose alike; absent where depths are not absolute, or the history is not enough. */
  common?: CommonWear;
}

/** One visit: a signed job whose hectares are known. */
export interface WearVisit {
  /** `planters/{planter}/jobs/{job}`. */
  job: string;
  /** When it was signed. */
  signTime?: string;
  /** Hectares that the planter had planted by then, in all. */
  hectares: number;
  /** The same area in `areaUnit`: as it was typed, where it was typed in that unit. */
  plantedArea: number;
}

/** On which side of its limit a part is worn out. */
export type WorseWhen = "WORSE_WHEN_UNSPECIFIED" | "LARGER" | "SMALLER";
