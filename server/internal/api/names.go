package api

import (
	"strings"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Patterns of resource names; * stands for an id.
const (
	stylePattern   = "styles/*"
	planterPattern = "planters/*"
	fixturePattern = "fixtures/*"
	jobPattern     = "planters/*/jobs/*"
)

// parseName returns the ids of a resource name, or an error that shows what one looks like.
func parseName(field, name, pattern string) ([]string, error) {
	parts, want := strings.Split(name, "/"), strings.Split(pattern, "/")
	var ids []string
	ok := len(parts) == len(want)
	for i := 0; ok && i < len(want); i++ {
		if want[i] == "*" {
			ids = append(ids, parts[i])
			ok = parts[i] != ""
		} else {
			ok = parts[i] == want[i]
		}
	}
	if !ok {
		var v leveling.Violations
		v.Add(field, "is %q, must be a name such as %s", name, strings.ReplaceAll(pattern, "*", "ID"))
		return nil, v.Err()
	}
	return ids, nil
}

// jobKey returns the key of the job that a caller names.
func jobKey(who flow.Caller, field, name string) (flow.JobKey, error) {
	ids, err := parseName(field, name, jobPattern)
	if err != nil {
		return flow.JobKey{}, err
	}
	return flow.JobKey{Shop: who.Shop, Planter: ids[0], Job: ids[1]}, nil
}

func jobNameOf(key flow.JobKey) string { return planterPrefix + key.Planter + "/jobs/" + key.Job }
