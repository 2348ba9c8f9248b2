package api

import (
	"strconv"
	"strings"

	"rowdatum/server/leveling"
)

// refusals are what errors say in one language, by reason. Where a reason says different things, what tells them apart
// stands behind it; a reason that begins with _ is the end of many. In braces is what the error's metadata fill in.
type refusals map[string]string

// refusalsIn are the refusals of each language but English, which is said where an error is made.
var refusalsIn = map[leveling.Language]refusals{leveling.Spanish: spanish}

// unplanned is what is added where an adjuster's failure leaves rows without a plan.
const unplanned = "unplanned"

// message is what an error says in a language, in English where that language does not say its reason.
func message(e *leveling.Error, l leveling.Language) string {
	said := refusalsIn[l].of(e)
	if said == "" {
		return e.Message
	}
	if fromAdjuster(e) && e.Metadata["rows"] != "" {
		said += refusalsIn[l][unplanned]
	}
	return filled(said, e, l)
}

// of is empty for a reason that is not known.
func (r refusals) of(e *leveling.Error) string {
	for _, key := range []string{e.Reason + " " + variant(e), e.Reason} {
		if said, known := r[key]; known {
			return said
		}
	}
	for _, end := range []string{"_NOT_FOUND", "_EXISTS"} {
		if strings.HasSuffix(e.Reason, end) {
			return r[end]
		}
	}
	return ""
}

// variant tells apart what one reason says.
func variant(e *leveling.Error) string {
	if e.Reason == "INVALID_REQUEST" {
		return strconv.Itoa(len(e.Violations))
	}
	return e.Metadata["stage"]
}

func fromAdjuster(e *leveling.Error) bool {
	return strings.HasPrefix(e.Reason, "ADJUSTER_") || e.Reason == "STYLE_NOT_INSTALLED"
}

// filled puts what is variable in an error in its place.
func filled(said string, e *leveling.Error, l leveling.Language) string {
	return strings.NewReplacer(
		"{count}", strconv.Itoa(len(e.Violations)),
		"{rows}", rowsOf(e, l),
		"{revision}", e.Metadata["revision"],
		"{style}", strconv.Quote(e.Metadata["style"]),
		"{id}", strconv.Quote(e.Metadata["id"]),
	).Replace(said)
}

// rowsOf names the rows of an error's metadata.
func rowsOf(e *leveling.Error, l leveling.Language) string {
	var rows []int
	for number := range strings.SplitSeq(e.Metadata["rows"], ",") {
		if n, err := strconv.Atoi(number); err == nil {
			rows = append(rows, n)
		}
	}
	if len(rows) == 0 {
		return ""
	}
	return leveling.Voice{Language: l}.RowList(rows)
}
