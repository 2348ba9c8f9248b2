package main

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestLanguage: the flag says it, else the environment; the service is told with every call.
func TestLanguage(t *testing.T) {
	for _, tt := range []struct {
		flag, all, lang, want string
	}{
		{"", "", "", "en"}, {"", "", "es_AR.UTF-8", "es"}, {"", "", "de_DE.UTF-8", "en"}, {"", "C", "es_MX", "en"}, {"", "es", "en_US", "es"},
		{"en", "", "es_MX", "en"}, {"es", "", "en_US", "es"},
	} {
		t.Setenv("LC_ALL", tt.all)
		t.Setenv("LC_MESSAGES", "")
		t.Setenv("LANG", tt.lang)
		said := ""
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			said = r.Header.Get("Accept-Language")
			w.Write([]byte(`{}`))
		}))
		args := []string{"styles", "--service", server.URL}
		if tt.flag != "" {
			args = append(args, "--language", tt.flag)
		}
		var stdout, stderr strings.Builder
		if code := run(t.Context(), args, nil, &stdout, &stderr); code != exitOK || said != tt.want {
			t.Errorf("%+v: said %q (%s)", tt, said, stderr.String())
		}
		server.Close()
	}
}

// TestSheetFormat: the file's name says it where no flag does.
func TestSheetFormat(t *testing.T) {
	for _, tt := range []struct{ flag, file, want string }{
		{"", "", "HTML"}, {"", "a.PDF", "PDF"}, {"", "a.csv", "CSV"}, {"", "a.txt", "HTML"}, {"csv", "a.pdf", "CSV"},
	} {
		if got := (&sheetCommand{Format: tt.flag, Output: tt.file}).format(); got != tt.want {
			t.Errorf("%+v: got %s", tt, got)
		}
	}
}

// TestFilesBeside: a file that another one names lies beside it.
func TestFilesBeside(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "stop.csv"), []byte("A,1 in"), 0o600); err != nil {
		t.Fatal(err)
	}
	a := &app{flags: &flags{}, stdin: strings.NewReader("the other file itself")}
	for name, fails := range map[string]bool{"stop.csv": false, filepath.Join(folder, "stop.csv"): false, "none.csv": true, "-": true, "": true} {
		text, err := a.beside(filepath.Join(folder, "planter.csv"))(name)
		if (err != nil) != fails || !fails && string(text) != "A,1 in" {
			t.Errorf("%q: got %q, %v", name, text, err)
		}
	}
}
