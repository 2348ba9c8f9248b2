package load

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// processor reads how much processor time a process has used.
func processor(pid int) (time.Duration, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, err
	}
	// The name in brackets may hold anything; after it user time is the 12th field, system time the 13th, in
	// hundredths of a second (proc(5): fields 14 and 15, USER_HZ).
	_, rest, _ := strings.Cut(string(text), ") ")
	fields := strings.Fields(rest)
	const user, system, hundredth = 11, 12, 10 * time.Millisecond
	if len(fields) <= system {
		return 0, fmt.Errorf("/proc/%d/stat reads %q", pid, text)
	}
	var sum time.Duration
	for _, field := range []string{fields[user], fields[system]} {
		ticks, err := strconv.ParseInt(field, 10, 64)
		if err != nil {
			return 0, fmt.Errorf("/proc/%d/stat: %w", pid, err)
		}
		sum += time.Duration(ticks) * hundredth
	}
	return sum, nil
}
