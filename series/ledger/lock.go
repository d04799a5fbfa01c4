package ledger

import (
	"errors"
	"fmt"

	"github.com/gofrs/flock"
)

// ErrBusy means that another process holds the ledger.
var ErrBusy = errors.New("another dropwright is at work on this series: wait for it to end")

// Flock takes the system's lock on a file beside the ledger without waiting. The system frees it when the
// process ends in whatever way, so no stale lock is ever to be removed by hand. The lock file stays: to
// remove it would let two processes each lock a file of that name. On network file systems locks may be
// missing; then create-only writes at the target still keep a drop from going out twice.
func Flock(path string) (unlock func() error, err error) {
	name := path + ".lock"
	lock := flock.New(name)
	got, err := lock.TryLock()
	if err != nil {
		return nil, fmt.Errorf("locking %q: %w", name, err)
	}
	if !got {
		return nil, fmt.Errorf("%q is locked: %w", name, ErrBusy)
	}
	return lock.Close, nil
}
