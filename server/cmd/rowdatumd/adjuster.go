package main

import (
	"fmt"

	"go.uber.org/zap"

	"rowdatum/server/internal/adjusters"
)

func (f *flags) adjusterOptions(t telemetry, log *zap.Logger) adjusters.Options {
	const mebi = 1 << 20
	return adjusters.Options{Dir: f.Adjusters, Log: log, MemoryBytes: f.AdjusterMemory * mebi, Meter: t.metrics, DialOptions: t.traces.Client()}
}

// adjusterCommands work on the folder of adjusters, beside a service that may be running on it.
type adjusterCommands struct {
	Lock lockAdjusters `cmd:"" help:"Write adjusters.lock: from then on only the programs that lie in the folder now are run, unchanged. Write it again after a change that you trust; remove it to unlock."`
}

type lockAdjusters struct {
	Adjusters string `default:"bin/adjusters" placeholder:"DIR" help:"The folder of adjuster programs (${default})."`
}

// Run locks the folder and prints what the lock now names.
func (c *lockAdjusters) Run() error {
	locked, err := adjusters.Lock(c.Adjusters)
	for _, l := range locked {
		fmt.Printf("%x  %s\n", l.Sum, l.File)
	}
	return err
}
