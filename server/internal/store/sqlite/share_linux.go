package sqlite

import "golang.org/x/sys/unix"

// shares are the numbers of file systems that lie on another machine, from the kernel's magic.h and cifs.
var shares = map[uint32]string{
	unix.NFS_SUPER_MAGIC:  "NFS",
	unix.SMB_SUPER_MAGIC:  "SMB",
	unix.CIFS_SUPER_MAGIC: "CIFS",
	unix.SMB2_SUPER_MAGIC: "SMB",
	unix.V9FS_MAGIC:       "9P",
	unix.AFS_SUPER_MAGIC:  "AFS",
	unix.CODA_SUPER_MAGIC: "Coda",
	unix.CEPH_SUPER_MAGIC: "Ceph",
}

// shareOf names the kind of network share that dir is on, as far as it can tell.
func shareOf(dir string) string {
	var stat unix.Statfs_t
	if unix.Statfs(dir, &stat) != nil {
		return ""
	}
	return shares[uint32(stat.Type)]
}
