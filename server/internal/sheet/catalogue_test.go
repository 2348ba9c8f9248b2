package sheet

import (
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/wordstest"
)

func TestCatalogue(t *testing.T) { wordstest.Complete(t, leveling.Languages(), catalogue) }

func TestDefused(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "plain": "plain", "a=b": "a=b", "=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'\t=1", "\r=1": "'\r=1",
		"＝1+1": "'＝1+1", "＋1": "'＋1", "－1": "'－1", "＠SUM(A1)": "'＠SUM(A1)", "\ufeff=1": "'\ufeff=1", " =1": "' =1", " \t\u00a0＝1": "' \t\u00a0＝1", "\u200b@a": "'\u200b@a", "\x00=1": "'\x00=1",
		" plain": " plain", "\ufeff": "\ufeff", "−1": "−1",
	} {
		if got := defused(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
}

func TestRuns(t *testing.T) {
	for want, rows := range map[string][]int{"1": {1}, "1, 2": {1, 2}, "1–3": {1, 2, 3}, "1–4, 7, 9, 10": {1, 2, 3, 4, 7, 9, 10}} {
		if got := runs(rows); got != want {
			t.Errorf("%v is %q, want %q", rows, got, want)
		}
	}
}

func TestFigures(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{tenth(-0.04), "0.0"}, {tenth(57.15), "57.2"}, {tenth(-1.26), "−1.3"}, {tenthless(762), "762"}, {tenthless(1.5875), "1.6"},
		{signed("0"), "0"}, {signed("1.5"), "+1.5"}, {signed("-1.5"), "−1.5"}, {signed("0.0"), "0.0"},
		{chance(1), "> 99.9 %"}, {chance(0), "< 0.1 %"}, {chance(0.9438), "94.4 %"}, {figure(-0.00001), "0.0000"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}
