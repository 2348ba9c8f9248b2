//go:build unix

package adjusters

import (
	"io/fs"
	"os"
	"os/exec"
	"syscall"
)

func executable(info fs.FileInfo) bool { return info.Mode()&0o111 != 0 }

// writableByOthers: by mode, or because it belongs to somebody who is neither root nor the service's
// user and so may give himself the right at any time.
func writableByOthers(info fs.FileInfo) bool {
	if info.Mode()&0o022 != 0 {
		return true
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	return ok && stat.Uid != 0 && int(stat.Uid) != os.Geteuid()
}

// setGroup gives the program a process group of its own. Ctrl-C on the service's terminal then reaches
// the service alone, which stops its adjusters in order; and whatever the program started can be ended
// with it.
func setGroup(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killGroup ends the program and all that it started. An error means that nothing is left to end.
func killGroup(pid int) { _ = syscall.Kill(-pid, syscall.SIGKILL) }

// claim takes a lock that ends with this process, however it ends.
func claim(mark *os.File) { lockFile(mark) }

// abandoned says whether the run that has made a mark has ended. What cannot be opened is somebody else's.
func abandoned(mark string) bool {
	file, err := os.Open(mark)
	if err != nil {
		return false
	}
	defer file.Close()
	return lockFile(file)
}

// lockFile returns false where another holds the lock.
func lockFile(file *os.File) bool {
	return syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
