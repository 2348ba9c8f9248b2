package adjusters

import (
	"bytes"
	"os"
	"strconv"
)

// meters says whether the system tells what processes use.
const meters = true

// sample adds up what all groups use now.
func sample() map[int]usage {
	groups := map[int]usage{}
	proc, err := os.Open("/proc")
	if err != nil {
		return groups
	}
	defer proc.Close()
	names, _ := proc.Readdirnames(-1)
	page := int64(os.Getpagesize())
	for _, name := range names {
		if name[0] < '0' || name[0] > '9' {
			continue // no process
		}
		text, err := os.ReadFile("/proc/" + name + "/stat")
		if err != nil {
			continue // it has just ended
		}
		// pid (name) state ppid pgrp …; the name may hold anything. rss is the 24th field of all.
		fields := bytes.Fields(text[bytes.LastIndexByte(text, ')')+1:])
		const group, rss = 2, 21
		if len(fields) <= rss {
			continue
		}
		leader, _ := strconv.Atoi(string(fields[group]))
		pages, _ := strconv.ParseInt(string(fields[rss]), 10, 64)
		u := groups[leader]
		groups[leader] = usage{u.bytes + pages*page, u.processes + 1}
	}
	return groups
}

// firstToGo lets the system end an adjuster before anything else where memory runs out.
func firstToGo(pid int) {
	_ = os.WriteFile("/proc/"+strconv.Itoa(pid)+"/oom_score_adj", []byte("1000"), 0) // a help, no condition
}
