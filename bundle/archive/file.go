package archive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// FS is what WriteFile needs of a file system, so that a test can make every step of it fail. Names
// are paths as package os takes them.
type FS interface {
	// Create makes a new file for writing and fails with fs.ErrExist where one is.
	Create(name string) (OutFile, error)
	// Open opens a file for reading.
	Open(name string) (io.ReadCloser, error)
	// Lstat describes a file without following a symbolic link.
	Lstat(name string) (fs.FileInfo, error)
	// Link gives a file a second name and fails with fs.ErrExist where a file has it.
	Link(old, new string) error
	// Rename gives a file another name, replacing what had it.
	Rename(old, new string) error
	// Remove deletes a file.
	Remove(name string) error
	// SyncDir makes the names in a folder survive a power cut; nothing where systems cannot.
	SyncDir(name string) error
}

// OutFile is a file being written.
type OutFile interface {
	io.Writer
	Sync() error
	Close() error
}

// OS is the FS of the machine.
type OS struct{}

// Create makes a new file, readable and writable as the umask allows.
func (OS) Create(name string) (OutFile, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
}

// Open is os.Open.
func (OS) Open(name string) (io.ReadCloser, error) { return os.Open(name) }

// Lstat is os.Lstat.
func (OS) Lstat(name string) (fs.FileInfo, error) { return os.Lstat(name) }

// Link is os.Link.
func (OS) Link(old, new string) error { return os.Link(old, new) }

// Rename is os.Rename.
func (OS) Rename(old, new string) error { return os.Rename(old, new) }

// Remove is os.Remove.
func (OS) Remove(name string) error { return os.Remove(name) }

// SyncDir syncs a folder. Windows has no such call and keeps its names in a journal.
func (OS) SyncDir(name string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// ExistsError says that a file is there already and holds something else.
type ExistsError struct{ Path string }

func (e *ExistsError) Error() string {
	return fmt.Sprintf("%q exists and holds other bytes; move it away or ask for it to be replaced", e.Path)
}

// FileOptions say how WriteFile treats what is there already.
type FileOptions struct {
	// Replace lets a file with other bytes be replaced. Without it *ExistsError comes back.
	Replace bool
	// FS is the file system, nil for OS.
	FS FS
}

// tempMark is in the name of every file that is not finished.
const tempMark = ".dropwright-"

// WriteFile has write fill the file path, so that at every moment, a power cut included, path is
// either as it was or complete. changed is false when the file held just these bytes before; then it
// is not touched. What is written goes to a hidden file in the same folder, is synced, closed and
// given its name, and the folder is synced: in this order, since a name may otherwise survive a
// power cut that its bytes did not (the cases of ALICE, Pillai et al., OSDI 2014). After any error
// the hidden file is removed. A failed sync is not tried again, because the system may have dropped
// the data already: call WriteFile anew.
//
// path must be a plain file or not be there; a symbolic link is refused rather than replaced. The
// folder must exist.
func WriteFile(path string, opt FileOptions, write func(io.Writer) error) (changed bool, err error) {
	fsys := opt.FS
	if fsys == nil {
		fsys = OS{}
	}
	if err := plainOrAbsent(fsys, path); err != nil {
		return false, err
	}
	dir := filepath.Dir(path)
	temp, f, err := createTemp(fsys, path)
	if err != nil {
		return false, fmt.Errorf("write %q: %w", path, err)
	}
	defer func() {
		if temp != "" {
			fsys.Remove(temp)
		}
	}()
	err = write(f)
	if err == nil {
		if err = f.Sync(); err != nil {
			err = fmt.Errorf("write %q: %w", path, err)
		}
	}
	if cerr := f.Close(); err == nil && cerr != nil {
		err = fmt.Errorf("write %q: %w", path, cerr)
	}
	if err != nil {
		return false, err
	}
	same, err := sameBytes(fsys, temp, path)
	if err != nil {
		return false, fmt.Errorf("compare with %q: %w", path, err)
	}
	if same {
		return false, nil
	}
	if opt.Replace {
		err = fsys.Rename(temp, path)
	} else {
		err = create(fsys, temp, path)
	}
	if err != nil {
		if exists, ok := errors.AsType[*ExistsError](err); ok {
			return false, exists
		}
		return false, fmt.Errorf("write %q: %w", path, err)
	}
	temp = ""
	if err := fsys.SyncDir(dir); err != nil {
		return true, fmt.Errorf("sync the folder of %q: %w", path, err)
	}
	return true, nil
}

// create gives temp the name path unless something has it.
func create(fsys FS, temp, path string) error {
	err := fsys.Link(temp, path)
	switch {
	case err == nil:
		// Two names for the same file: the old one goes. Should that fail, path is complete all the
		// same and Leftovers finds the other.
		fsys.Remove(temp)
		return nil
	case errors.Is(err, fs.ErrExist):
		return &ExistsError{path}
	}
	// FAT, exFAT and some network folders have no links. There a look and a rename must do; two
	// writers at the same instant would both succeed, the later one lasting.
	if _, err := fsys.Lstat(path); err == nil {
		return &ExistsError{path}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return fsys.Rename(temp, path)
}

func plainOrAbsent(fsys FS, path string) error {
	info, err := fsys.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("write %q: %w", path, err)
	case info.IsDir():
		return fmt.Errorf("write %q: a folder of this name is there", path)
	case !info.Mode().IsRegular():
		return fmt.Errorf("write %q: what is there is no plain file (%s); name the file it stands for", path, info.Mode().Type())
	}
	return nil
}

// createTemp makes a hidden file next to path with a name nobody has.
func createTemp(fsys FS, path string) (string, OutFile, error) {
	dir, base := filepath.Split(path)
	for try := 0; ; try++ {
		name := filepath.Join(dir, fmt.Sprintf(".%.40s%s%08x", base, tempMark, rand.Uint32()))
		f, err := fsys.Create(name)
		if err == nil || !errors.Is(err, fs.ErrExist) || try == 100 {
			return name, f, err
		}
	}
}

// sameBytes compares two files; a missing b is different.
func sameBytes(fsys FS, a, b string) (bool, error) {
	info, err := fsys.Lstat(b)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if mine, err := fsys.Lstat(a); err != nil || mine.Size() != info.Size() {
		return false, err
	}
	ra, err := fsys.Open(a)
	if err != nil {
		return false, err
	}
	defer ra.Close()
	rb, err := fsys.Open(b)
	if err != nil {
		return false, err
	}
	defer rb.Close()
	bufA, bufB := make([]byte, 64<<10), make([]byte, 64<<10)
	for {
		n, errA := io.ReadFull(ra, bufA)
		m, errB := io.ReadFull(rb, bufB)
		if !bytes.Equal(bufA[:n], bufB[:m]) {
			return false, nil
		}
		endA, endB := ended(errA), ended(errB)
		switch {
		case errA != nil && !endA:
			return false, errA
		case errB != nil && !endB:
			return false, errB
		case endA || endB:
			return endA && endB, nil
		}
	}
}

func ended(err error) bool { return err == io.EOF || err == io.ErrUnexpectedEOF }

// Leftovers lists the hidden files that a WriteFile killed half-way has left in a folder. Removing
// them is safe when nothing else is writing there: the caller holds the lock.
func Leftovers(dir string) ([]string, error) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, d := range list {
		if name := d.Name(); strings.HasPrefix(name, ".") && strings.Contains(name, tempMark) && d.Type().IsRegular() {
			out = append(out, filepath.Join(dir, name))
		}
	}
	return out, nil
}
