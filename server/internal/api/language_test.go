package api

import (
	"context"
	"testing"

	"google.golang.org/grpc/metadata"

	"rowdatum/server/leveling"
)

func TestPreferredLanguage(t *testing.T) {
	for list, want := range map[string]leveling.Language{
		"":                           leveling.English,
		"es":                         leveling.Spanish,
		"ES-mx":                      leveling.Spanish,
		"es-419,es;q=0.9,en;q=0.8":   leveling.Spanish,
		"en-US,en;q=0.9,es;q=0.8":    leveling.English,
		"en;q=0.3, es;q=0.7":         leveling.Spanish,
		"es;q=0.5, en;q=0.5":         leveling.Spanish, // the first of equals
		"de, fr;q=0.9, es ; q = 0.1": leveling.Spanish,
		"de":                         leveling.English,
		"est":                        leveling.English, // Estonian
		"es;q=0":                     leveling.English, // not acceptable: RFC 9110, 12.4.2
		"es;q=nan, es;q=2, es;x=1":   leveling.English,
		"*":                          leveling.English,
		",;,q=1;;":                   leveling.English,
	} {
		if got := preferred(list); got != want {
			t.Errorf("%q: %q, want %q", list, got, want)
		}
	}
}

func TestLanguageOfACall(t *testing.T) {
	ctx := metadata.NewIncomingContext(context.Background(), metadata.Pairs("accept-language", "de", "accept-language", "es"))
	if got := languageOf(ctx); got != leveling.Spanish {
		t.Errorf("%q", got)
	}
	if got := languageOf(context.Background()); got != leveling.English {
		t.Errorf("%q without metadata", got)
	}
}

func FuzzPreferred(f *testing.F) {
	f.Add("es-MX, en;q=0.5")
	f.Fuzz(func(t *testing.T, list string) {
		if got := preferred(list); got != leveling.English && got != leveling.Spanish {
			t.Errorf("%q", got)
		}
	})
}
