package ledger

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"dropwright/series/disk"
)

// Mismatch is a ledger of another series, or a rehearsal's where the real one is wanted.
type Mismatch struct{ Path, Why string }

func (m *Mismatch) Error() string { return fmt.Sprintf("ledger %q: %s", m.Path, m.Why) }

// Options are what opening needs besides the file.
type Options struct {
	Series    string
	Rehearsal bool
	Now       time.Time // stamped on line 1 of a new ledger
	// Lock takes the lock beside the ledger; nil for [Flock]. It returns ErrBusy if another process has it.
	Lock func(path string) (unlock func() error, err error)
}

// Ledger is a log that can be added to. It is not safe for concurrent use; other processes are kept out by
// the lock until Close.
type Ledger struct {
	*Log
	disk   disk.FS
	unlock func() error
	broken error
	fresh  bool // the folder may not know the file's name durably
}

// Open locks a ledger, verifies it, moves a torn tail aside and makes ready for Append. A missing ledger
// is begun. The caller must Close it. Errors: ErrBusy, [*Damage], [*Newer], [*Mismatch], or the file
// system's.
func Open(d disk.FS, path string, o Options) (l *Ledger, err error) {
	lock := o.Lock
	if lock == nil {
		lock = Flock
	}
	unlock, err := lock(path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, unlock())
		}
	}()
	log, err := Read(d, path)
	if err != nil {
		return nil, err
	}
	l = &Ledger{Log: log, disk: d, unlock: unlock, fresh: true}
	if len(l.Torn) > 0 {
		if err := l.repair(); err != nil {
			return nil, fmt.Errorf("moving the torn last line of ledger %q aside: %w", path, err)
		}
	}
	if len(l.Entries) == 0 {
		if o.Series == "" {
			return nil, fmt.Errorf("beginning ledger %q: no name of a series", path)
		}
		_, err := l.Append(Record{Kind: Opened, At: o.Now, Format: Version, Series: o.Series, Rehearsal: o.Rehearsal})
		return l, err
	}
	first := l.Entries[0]
	switch {
	case first.Series != o.Series:
		return nil, &Mismatch{path, fmt.Sprintf("it is the ledger of %q, not of %q: give the right folder, or undo the renaming of the series", first.Series, o.Series)}
	case first.Rehearsal != o.Rehearsal:
		return nil, &Mismatch{path, "a rehearsal's ledger and the real one were exchanged: move them back"}
	}
	return l, nil
}

// repair moves the torn tail to the ".torn" file, durably, before the ledger is shortened.
func (l *Ledger) repair() error {
	name := l.Path + ".torn"
	f, err := l.disk.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(append(l.Torn[:len(l.Torn):len(l.Torn)], '\n'))
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := l.disk.SyncDir(filepath.Dir(name)); err != nil {
		return err
	}
	return l.shorten()
}

// shorten cuts the file to its whole lines.
func (l *Ledger) shorten() error {
	f, err := l.disk.OpenFile(l.Path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	err = f.Truncate(l.size)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// Append adds a record and returns when it is durable: one write, one sync. After an error the ledger
// takes no more records; what is on the disk is found out by opening it again.
func (l *Ledger) Append(r Record) (Entry, error) {
	if l.broken != nil {
		return Entry{}, fmt.Errorf("ledger %q: not written after an earlier failure: %w", l.Path, l.broken)
	}
	next, err := next(l.Head(), r)
	if err != nil {
		return Entry{}, fmt.Errorf("ledger %q: %w", l.Path, err) // nothing was written: no harm done
	}
	text := append(next.bytes(), '\n')
	e, _, err := decode(text[:len(text)-1], l.Head())
	if err == nil {
		err = l.write(text)
	}
	if err != nil {
		l.broken = err
		// The line may stand in the file although it was never made durable. A later run would believe it,
		// so it is taken back as far as the disk lets us; failing that, it is a torn or an early line.
		var cut error
		if len(l.Entries) == 0 {
			// After a failed sync of the folder the name may be lost whatever a later sync says: it is made
			// anew by the next run.
			cut = l.disk.Remove(l.Path)
		} else {
			cut = l.shorten()
		}
		if errors.Is(cut, os.ErrNotExist) {
			cut = nil
		}
		return Entry{}, fmt.Errorf("writing the ledger %q: %w", l.Path, errors.Join(err, cut))
	}
	l.Entries = append(l.Entries, e)
	l.size += int64(len(text))
	return e, nil
}

func (l *Ledger) write(text []byte) error {
	f, err := l.disk.OpenFile(l.Path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		// Also makes durable what an earlier process wrote and was killed before syncing.
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	if l.fresh {
		if err := l.disk.SyncDir(filepath.Dir(l.Path)); err != nil {
			return err
		}
		l.fresh = false
	}
	return nil
}

// Close frees the lock.
func (l *Ledger) Close() error {
	l.broken = errors.New("it is closed")
	if l.unlock == nil {
		return nil
	}
	unlock := l.unlock
	l.unlock = nil
	return unlock()
}
