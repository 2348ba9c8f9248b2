// Package adjusters is the host of the adjuster programs: it finds them in a folder, keeps each one
// alive, asks them and checks every answer before it enters the core.
//
// Three ideas, three files:
//
//   - catalogue: what is installed in the folder, and whether it may be run;
//   - supervisor: one goroutine owns one program: start, watch, restart with back-off, give up, stop;
//   - mechanism: asks a question, checks the answer, remembers it.
//
// Around them: process (one run of one program), description (what a style says of itself, checked),
// answers (the checks of options and words), cache (bounded memory of pure answers), lines (an
// adjuster's output as events of the service's log).
//
// It promises that a program that crashes, hangs or lies harms nobody but the plans that need it; that
// every wait on a program has an end; that nothing said by a program is passed on unchecked; that no
// program outlives Close. It never guesses an answer, and never runs a program that others than the
// service's user or root could have written.
package adjusters
