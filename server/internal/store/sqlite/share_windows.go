package sqlite

import (
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// shareOf says whether dir is on a network drive.
func shareOf(dir string) string {
	volume := filepath.VolumeName(dir)
	if strings.HasPrefix(volume, `\\`) {
		return volume
	}
	root, err := windows.UTF16PtrFromString(volume + `\`)
	if err == nil && windows.GetDriveType(root) == windows.DRIVE_REMOTE {
		return volume
	}
	return ""
}
