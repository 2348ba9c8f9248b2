// Package plan finds the plan that no other plan beats: from what the readings say of every row and
// from the settings that every row could be brought to, it chooses the common depth (the datum) and one
// option for every row, most often to leave it alone.
//
// Compute gives everything: the plan (Solve), the trade-off between rows touched and spread left, the
// marks of handles that move in notches, and a reason in words for every row. A Planner does so again and
// again in the same room. Describe draws a plan as text.
//
// MoveInField changes planting depth: one count for every row of a mechanism (FieldTable: for several changes).
//
// It promises:
//   - exactness: the search is over every datum and every choice, not over a grid;
//   - the same plan for the same rows in whatever order, on every processor: what decides is rounded
//     once to whole picometres and compared as integers, and every tie has a rule;
//   - no clock, no randomness, nothing remembered from call to call; finite figures in, finite figures out.
//
// It will never ask an adjuster, look at JSON inside a setting, or decide whether a request is sound:
// its caller has done that (see Problem).
package plan
