package faults

import (
	"context"
	"fmt"
	"os/exec"
	"regexp"
	"strconv"
)

// clockSaid is what the test of the service prints.
var clockSaid = regexp.MustCompile(`(?m)^clock set back: (\d+) events acknowledged, (\d+) kept$`)

// clockSetBack has the service's own test say what came of it: nobody may set this machine's clock, a program without the
// system's library is not deceived about it from outside, and the service has no switch for it.
func clockSetBack(ctx context.Context, p *prover, o *outcome) error {
	if p.Quick {
		o.without = "It is a test of the service (TestClockSetBack), which runs with all the others; the long form runs it from here."
		return nil
	}
	o.fault += " an hour (TestClockSetBack of the service, on a clock of its own)"
	test := exec.CommandContext(ctx, "go", "test", "-count=1", "-v", "-run", "^TestClockSetBack", "./server/cmd/rowdatumd")
	test.Dir = p.Repository
	said, err := test.CombinedOutput()
	found := clockSaid.FindSubmatch(said)
	if found == nil {
		return fmt.Errorf("the test did not say what came of it: %w\n%s", err, said)
	}
	if o.verdict.acknowledged, err = strconv.Atoi(string(found[1])); err != nil {
		return err
	}
	if o.verdict.found, err = strconv.Atoi(string(found[2])); err != nil {
		return err
	}
	o.verdict.twice = o.verdict.acknowledged - o.verdict.found
	doors := kept{must: "pairing codes end, links go on, revoked keys stay so, hooks are told in order, nobody is refused", asked: 1, comment: "the test's own checks"}
	if test.ProcessState.Success() {
		doors.good = 1
	}
	o.kept = append(o.kept, doors)
	return nil
}
