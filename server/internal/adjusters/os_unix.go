//go:build unix

package adjusters

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
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

// abandoned says whether the run that has made a mark has ended. In a folder for temporary files anybody may put anything
// under the name of a mark, a pipe for one: whatever is not a plain file of this user is left alone, and nothing is waited for.
func abandoned(dir, mark string) bool {
	if info, err := os.Lstat(dir); err != nil || !info.IsDir() || !isOwn(info) {
		return false
	}
	file, err := os.OpenFile(filepath.Join(dir, mark), os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return false
	}
	defer file.Close()
	info, err := file.Stat()
	return err == nil && info.Mode().IsRegular() && isOwn(info) && lockFile(file)
}

func isOwn(info fs.FileInfo) bool {
	stat, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(stat.Uid) == os.Geteuid()
}

// lockFile returns false where another holds the lock.
func lockFile(file *os.File) bool {
	return syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
