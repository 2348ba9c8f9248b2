package main

// adjusterCommands are rowdatum adjuster …. They need no service.
type adjusterCommands struct {
	New   adjusterNew   `cmd:"" help:"Write a new adjuster in Go: a module of its own that builds and passes the check as it stands."`
	Check adjusterCheck `cmd:"" help:"Examine an adjuster program, in whatever language it is written."`
}
