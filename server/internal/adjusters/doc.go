// Package adjusters is the host of the adjuster programs: it finds them in a folder, keeps each one
// alive, asks them and checks every answer before it enters the core.
//
// Four ideas, four files:
//
//   - folder: what comes into the folder, changes in it, and goes, while the service runs;
//   - seat: the place of one file: the program that serves, and the newer one that is tried beside it;
//   - supervisor: one goroutine owns one program: start, watch, restart with back-off, give up, stop;
//   - mechanism: asks a question, checks the answer, remembers it.
//
// Around them: catalogue (what may be run, and the copy that is), lock (only what was locked), hold (one
// call, one version), process (one run of one program), meter (what it uses), description (what a style
// says of itself, checked), answers (the checks of options and words), cache (bounded memory of pure
// answers), lines (an adjuster's output as events of the service's log), rundir (sockets and copies).
//
// It promises that a program that crashes, hangs, lies, leaks or multiplies harms nobody but the plans
// that need it; that every wait on a program has an end; that nothing said by a program is passed on
// unchecked; that a newer program serves only once it has done well, and no call fails over the change;
// that no program outlives Close. It never guesses an answer, never gives one version's answer for
// another's, and never runs a program that others than the service's user or root could have written.
package adjusters
