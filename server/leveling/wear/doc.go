// Package wear says what the seasons did to a planter: how each row's depth drifts against the others with
// the hectares planted, which rows wear unlike the rest, edge rows against middle rows, and how many
// hectares are left until travel or a part's limit is used up, as an interval.
//
// Analyze works on the readings of jobs; Trend on one inspected part. Describe draws an analysis as text.
//
// Method: generalised least squares on each row's chain of depths. A move starts a new level of the chain at
// the same slope, a changed part a new chain; the reading of a row that was not moved stands in the chain
// once, so drifts before and after it share it. A visit's own shift (the fixture's zero, drift that all rows
// have in common) is estimated beside the slopes and drops out. Slopes are told relative to the mean of the
// middle third of the rows, which the edge rows do not shift.
//
// It promises "not enough history" instead of a figure from fewer than three visits, finite figures for
// finite depths, and the same for rows in whatever order. It knows no planter, job or clock.
package wear
