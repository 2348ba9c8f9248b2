package sqlite

import "testing"

func TestShares(t *testing.T) {
	// Numbers from the manual page statfs(2).
	for number, want := range map[uint32]string{0x6969: "NFS", 0xff534d42: "CIFS", 0xfe534d42: "SMB", 0x517b: "SMB", 0x1021997: "9P",
		0xef53: "", 0x9123683e: "", 0x01021994: ""} { // ext4, btrfs, tmpfs
		if got := shares[number]; got != want {
			t.Errorf("%#x: got %q, want %q", number, got, want)
		}
	}
	if got := shareOf("/proc"); got != "" {
		t.Errorf("/proc is on %s", got)
	}
	if got := shareOf("/no/such/folder"); got != "" {
		t.Errorf("no folder is on %s", got)
	}
}
