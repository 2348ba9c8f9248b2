// Package seal is the recipe of the content hash of a signed job: what a service writes under a job when it is signed, and
// what anybody recomputes to see whether the job's log is still the one that was signed. It knows JSON and SHA-256, nothing else,
// so that the service, the command line and a stranger's program (gateway/docs/verify-a-job.md) can agree on it.
//
// A recipe names what it hashes as the log stores it, and is never changed: old jobs verify by the recipe that they were signed by.
//
//   - Recipe 2, which jobs are signed by: the job's name, then each event as stored, in the canonical form of RFC 8785.
//   - Recipe 1, of jobs signed before 2026-12-01, is what reflection made of the program's own types then: other names, and without
//     what is zero. Its names are a table here (recipe1.go); testdata/seal has jobs that a program of that time signed.
//
// Roads not taken: hashing the stored bytes as they lie, which no export in other spacing would survive; recomputing the hash from
// the program's types, where a field that is renamed breaks every seal, and what a type does not know is not looked at.
package seal
