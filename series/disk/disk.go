// Package disk is the one door through which the ledger, the store of bundles and the folder targets
// touch a file system, so that tests can let the N-th operation fail or cut the power.
//
// It is for durable writing: every helper here returns only when what it wrote would survive a power
// cut, or returns an error and leaves the old state readable. It is not a general file library; reading
// a design's files goes through io/fs.
//
// Two facts shape it. A name is durable only after its folder was synced, and after a failed sync the
// system may have dropped the data and report success the next time: so a failed sync is never repeated,
// the file is written again from its source.
package disk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
)

// File is an open file. Truncate takes a size in bytes.
type File interface {
	io.Reader
	io.ReaderAt
	io.Writer
	io.Closer
	Sync() error
	Truncate(size int64) error
}

// FS is a file system with just the operations that durable writing needs. Names are those of the
// operating system. Errors satisfy errors.Is with fs.ErrExist and fs.ErrNotExist as package os's do.
type FS interface {
	// OpenFile opens with the flags of package os.
	OpenFile(name string, flag int, perm fs.FileMode) (File, error)
	// Mkdir makes one folder.
	Mkdir(name string, perm fs.FileMode) error
	// Rename replaces what `to` names.
	Rename(from, to string) error
	// Link gives a file a second name and fails with fs.ErrExist if that is taken.
	Link(from, to string) error
	// Remove removes a file or an empty folder.
	Remove(name string) error
	// Lstat does not follow symbolic links.
	Lstat(name string) (fs.FileInfo, error)
	// ReadDir lists a folder sorted by name.
	ReadDir(name string) ([]fs.DirEntry, error)
	// SyncDir makes the names in a folder durable.
	SyncDir(name string) error
}

// OS is the machine's own file system.
func OS() FS { return system{} }

type system struct{}

func (system) OpenFile(name string, flag int, perm fs.FileMode) (File, error) {
	f, err := os.OpenFile(name, flag, perm)
	if err != nil {
		return nil, err // not a nil *os.File inside a File
	}
	return f, nil
}
func (system) Mkdir(name string, perm fs.FileMode) error  { return os.Mkdir(name, perm) }
func (system) Rename(from, to string) error               { return os.Rename(from, to) }
func (system) Link(from, to string) error                 { return os.Link(from, to) }
func (system) Remove(name string) error                   { return os.Remove(name) }
func (system) Lstat(name string) (fs.FileInfo, error)     { return os.Lstat(name) }
func (system) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(name) }

func (system) SyncDir(name string) error {
	if runtime.GOOS == "windows" {
		return nil // a folder cannot be opened for syncing there; NTFS journals names itself
	}
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	err = f.Sync()
	return errors.Join(err, f.Close())
}

// MkdirAll makes a folder and those above it, each name durable before the next is made.
func MkdirAll(d FS, name string) error {
	name = filepath.Clean(name)
	if info, err := d.Lstat(name); err == nil {
		if info.IsDir() || info.Mode()&fs.ModeSymlink != 0 {
			return nil
		}
		return fmt.Errorf("%q is in the way: a folder is needed there", name)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	parent := filepath.Dir(name)
	if parent != name {
		if err := MkdirAll(d, parent); err != nil {
			return err
		}
	}
	if err := d.Mkdir(name, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := d.SyncDir(parent); err != nil {
		d.Remove(name) // so that the next run makes it again instead of trusting a failed sync
		return err
	}
	return nil
}

// ReadFile reads a whole file of at most limit bytes.
func ReadFile(d FS, name string, limit int64) ([]byte, error) {
	f, err := d.OpenFile(name, os.O_RDONLY, 0)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("%q is larger than %d bytes", name, limit)
	}
	return data, nil
}

// TempPrefix begins the names of files being written. [Sweep] removes what a crash left of them.
const TempPrefix = ".dropwright-tmp-"

// IsTemp says whether a file name (without folders) is one of a file being written.
func IsTemp(name string) bool { return strings.HasPrefix(name, TempPrefix) }

// WriteTemp writes a new file beside its final place and makes its content durable; the caller renames or
// links it. On an error nothing is left behind, unless the file system fails in that too.
func WriteTemp(d FS, folder string, write func(io.Writer) error) (name string, err error) {
	var f File
	for try := 0; ; try++ {
		// The name only has to be free: two writers may be at work where locks do not reach.
		name = filepath.Join(folder, TempPrefix+strconv.FormatUint(rand.Uint64(), 36))
		f, err = d.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if err == nil {
			break
		}
		if !errors.Is(err, fs.ErrExist) || try == 9 {
			return "", err
		}
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		d.Remove(name)
		return "", err
	}
	return name, nil
}

// Replace writes a file so that a reader, and a power cut, finds the whole old content or the whole new.
func Replace(d FS, name string, data []byte) error {
	folder := filepath.Dir(name)
	temp, err := WriteTemp(d, folder, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	if err := d.Rename(temp, name); err != nil {
		d.Remove(temp)
		return err
	}
	return d.SyncDir(folder)
}

// Sweep removes the temporary files that a crash left in a folder and those below it. Only the holder of
// the series' lock may call it: it would take another writer's file away.
func Sweep(d FS, folder string) error {
	entries, err := d.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	for _, e := range entries {
		name := filepath.Join(folder, e.Name())
		switch {
		case e.IsDir():
			err = Sweep(d, name)
		case IsTemp(e.Name()):
			err = d.Remove(name)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}
