//go:build !unix

package adjusters

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

func executable(info fs.FileInfo) bool { return strings.HasSuffix(info.Name(), ".exe") }

// writableByOthers cannot be told from a mode here; the folder's access list is the operator's care.
func writableByOthers(fs.FileInfo) bool { return false }

func setGroup(*exec.Cmd) {}

// killGroup ends the program. An error means that nothing is left to end.
func killGroup(pid int) {
	if p, err := os.FindProcess(pid); err == nil {
		_ = p.Kill()
	}
}

// claim needs no lock: an open file cannot be removed here.
func claim(*os.File) {}

// abandoned says whether the run that has made a mark has ended; the mark is then gone.
func abandoned(dir, mark string) bool { return os.Remove(filepath.Join(dir, mark)) == nil }
