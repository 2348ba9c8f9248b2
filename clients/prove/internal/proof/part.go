package proof

import "context"

// Part is one thing that is proven: it runs, and says what came out. An error is for what kept it from running.
type Part func(context.Context, Setting) ([]Table, error)

// Setting is what a part runs in.
type Setting struct {
	Programs string // folder with rowdatumd, and the adjusters in its folder adjusters
	Quick    bool   // a short form, for tests: fewer tries, goals not judged
	// Repository is the folder of these sources, for what a proof needs that no shop has: programs that lie, databases to restart.
	// Empty: the present folder.
	Repository string
	Say        func(format string, args ...any) // tells how far it is; never nil
}
