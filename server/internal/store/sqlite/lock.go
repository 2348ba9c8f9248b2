package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"
)

var errHeld = errors.New("the lock is held")

// own takes the lock of the file at path, waiting for so long where another process holds it. The lock goes
// with the process; the file stays, so that two cannot lock two files of one name.
func own(ctx context.Context, path string, wait time.Duration) (*os.File, error) {
	file, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("opening the store's lock: %w", err)
	}
	for end := time.Now().Add(wait); ; {
		err := tryLock(file)
		if err == nil {
			return file, nil
		}
		if !errors.Is(err, errHeld) {
			return nil, errors.Join(fmt.Errorf("locking the store's file: %w", err), file.Close())
		}
		if time.Now().After(end) {
			return nil, errors.Join(fmt.Errorf("another rowdatumd has the store %s open: stop it first", path), file.Close())
		}
		select {
		case <-ctx.Done():
			return nil, errors.Join(ctx.Err(), file.Close())
		case <-time.After(lockPause):
		}
	}
}

const lockPause = 50 * time.Millisecond
