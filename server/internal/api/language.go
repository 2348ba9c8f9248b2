package api

import (
	"context"
	"strconv"
	"strings"

	"google.golang.org/grpc/metadata"

	"rowdatum/server/leveling"
)

// languageHeader is what a call says of the languages its reader reads, as in HTTP.
const languageHeader = "accept-language"

// languageOf is the language to answer a call in.
func languageOf(ctx context.Context) leveling.Language {
	return preferred(strings.Join(metadata.ValueFromIncomingContext(ctx, languageHeader), ","))
}

// preferred is the language that a list such as "es-MX, en;q=0.5" likes best of those that the service
// speaks, the first of equals; English where it likes none.
func preferred(list string) leveling.Language {
	best, most := leveling.English, 0.0
	for entry := range strings.SplitSeq(list, ",") {
		tag, weight, _ := strings.Cut(entry, ";")
		language, spoken := spokenIn(tag)
		if q := quality(weight); spoken && q > most {
			best, most = language, q
		}
	}
	return best
}

// spokenIn is the language of a tag such as es-MX.
func spokenIn(tag string) (language leveling.Language, spoken bool) {
	base, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(tag)), "-")
	for _, l := range leveling.Languages() {
		if base == l.Tag() {
			return l, true
		}
	}
	return leveling.English, base == "*"
}

// spokenTags are the languages that the service speaks: en or es.
func spokenTags() string {
	var tags []string
	for _, l := range leveling.Languages() {
		tags = append(tags, l.Tag())
	}
	return strings.Join(tags, " or ")
}

// quality is the weight behind a tag, from 0 to 1: 1 where nothing is said, 0 where it cannot be read.
func quality(weight string) float64 {
	name, value, said := strings.Cut(weight, "=")
	if !said {
		return 1
	}
	q, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
	if err != nil || !strings.EqualFold(strings.TrimSpace(name), "q") || !(q >= 0 && q <= 1) {
		return 0
	}
	return q
}
