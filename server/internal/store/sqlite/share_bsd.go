//go:build darwin || freebsd

package sqlite

import "golang.org/x/sys/unix"

// shareOf names the kind of network share that dir is on, as far as it can tell.
func shareOf(dir string) string {
	var stat unix.Statfs_t
	if unix.Statfs(dir, &stat) != nil {
		return ""
	}
	switch name := unix.ByteSliceToString(stat.Fstypename[:]); name {
	case "nfs", "smbfs", "afpfs", "webdav":
		return name
	}
	return ""
}
