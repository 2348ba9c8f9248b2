// Package visit works at a planter as its technician does: it opens a job, does at each row what the service says is next
// there, and signs. What the planter is truly like is the caller's to say.
package visit
