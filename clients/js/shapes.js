/**
 * The shapes of the service's JSON, as far as a client of jobs reads them; for the type checker only, no module loads this file.
 * All lengths are mm. Every field is described at /docs/api of a service.
 *
 * @typedef {Record<string, unknown>} Values
 * @typedef {{id: string, style: string, figures: Values}} Mechanism
 * @typedef {{row: number, mechanism: string, setting?: Values, rank?: string, scale?: number, scaleSd?: number, asLeftMm?: number}} PlanterRow
 * @typedef {{title: string, firstRow: number, lastRow: number}} Section
 * @typedef {{shallowerMm?: number, deeperMm?: number}} Reach
 * @typedef {{name: string, displayName: string, owner?: string, rowSpacingMm?: number, mechanisms: Mechanism[], rows: PlanterRow[],
 *   sections?: Section[], reach?: Reach, referenceRows?: number[], externalIds?: Record<string, string>, etag?: string}} Planter
 * @typedef {{name: string, displayName: string, kind: string, resolutionMm: number, repeatabilityMm: number, floorMm: number, zeroMm: number, etag?: string}} Fixture
 * @typedef {{id: string, title: string, unit: string, limit?: number, worseWhen: string, guidance: string}} InspectionPoint
 * @typedef {{name: string, title: string, countUnit: {one: string, other: string}, keepsMarks: boolean, setsPlantingDepth: boolean,
 *   figuresSchema: Schema, settingSchema: Schema, inspectionPoints: InspectionPoint[], cautions: string[], state: string, stateReason: string}} Style
 * @typedef {{type?: string, title?: string, description?: string, default?: unknown, examples?: unknown[], minimum?: number, maximum?: number,
 *   exclusiveMinimum?: number, exclusiveMaximum?: number, minItems?: number, maxItems?: number, minLength?: number, maxLength?: number,
 *   enum?: (string|number)[], const?: unknown, items?: Schema, uniqueItems?: boolean, properties?: Record<string, Schema>, required?: string[],
 *   oneOf?: Schema[], anyOf?: Schema[], "x-unit"?: string, "x-labels"?: string[]}} Schema
 * @typedef {{kind?: string, toleranceMm?: number, confidence?: number, missSeconds?: number, row?: number, datumMm?: number}} Aim
 * @typedef {{effectMm: number, count: number, unit: string, settingAfter?: Values, say: string}} Move
 * @typedef {{row: number, estimateMm: number, verdict: string, move?: Move, predictedMm?: number, readingsToSettle: number, why: string}} RowPlan
 * @typedef {{touchedRows: number, spreadMm: number}} TradeoffPoint
 * @typedef {{row: number, count?: number, residualMm: number, table?: {depthMm: number, setting: Values}[]}} RowMark
 * @typedef {{mechanism: string, referenceRow: number, rows: RowMark[]}} Marks
 * @typedef {{datumMm: number, spreadBeforeMm: number, spreadAfterMm: number, touchedRows: number, rereadRows: number, touchSeconds: number,
 *   provableToleranceMm: number, rows: RowPlan[], tradeoff: TradeoffPoint[], marks: Marks[], cautions: string[]}} Plan
 * @typedef {{id: string, text: string, person: string, tickTime?: string}} Caution
 * @typedef {{row: number, mechanism: string, setting?: Values, lastMove: number, asFoundMm?: number, estimateMm?: number, measured: boolean,
 *   readings: number, verdict: string, evenFromMm?: number, evenToMm?: number, evenNumberFromMm?: number, evenNumberToMm?: number,
 *   fromOthersMm?: number, fromDatumMm?: number, next: string, move?: Move, why: string, exception: string}} RowState
 * @typedef {{row?: number, unproven?: boolean, reason: string}} Exception
 * @typedef {{person: string, signTime: string, contentHash: string, exceptions?: Exception[]}} Signature
 * @typedef {{row: number, point: string, value?: number, worn: boolean, comment: string}} Inspection
 * @typedef {{rows: RowState[], datumMm?: number, toleranceMm: number, spreadMm?: number, provableToleranceMm?: number, plan?: Plan,
 *   planRevision: number, cautions: Caution[], marks: Marks[], warnings: string[], signature?: Signature, voidReason: string,
 *   signingNeeds: string[], inspections: Inspection[]}} JobState
 * @typedef {{name: string, fixture: string, workOrder: string, externalIds?: Record<string, string>, aim?: Aim, stage: string, revision: number,
 *   etag: string, createTime: string, updateTime: string, state?: JobState}} Job
 * @typedef {{row: number, value: number, unit: string, afterMove: number, depthMm?: number}} Reading
 * @typedef {{row: number, settingBefore?: Values, count?: number, settingAfter?: Values, afterMove?: number, effectMm?: number}} MoveDone
 * @typedef {{revision: number, createTime: string, eventTime?: string, person: string, struckBy: number,
 *   opened?: {planter: Planter, fixture?: Fixture}, reading?: Reading, move?: MoveDone, partChange?: {row: number, part: string},
 *   inspection?: Inspection, note?: {row: number, text: string}, strike?: {revision: number, reason: string},
 *   cautionTick?: {caution: string}, planIssued?: {plan: Plan, free: boolean}, signature?: Signature, voided?: {reason: string}}} JobEvent
 * @typedef {{events: JobEvent[], job: Job}} Appended
 * @typedef {{shop: string, role: string, label: string, job?: string, expireTime?: string}} Session
 */
export {};
