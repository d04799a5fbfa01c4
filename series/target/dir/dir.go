// Package dir is a target in a folder: of this machine, of a mounted disk, or one that another program
// carries to a web server.
//
// An object is written to a temporary file in its own folder, synced, and given its name by a hard link,
// which fails if the name is taken; then the folder is synced. Where hard links do not exist (FAT, some
// network disks) the name is looked up and the file renamed; there the series' lock alone keeps two
// writers apart.
package dir

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"

	"dropwright/series/disk"
	"dropwright/series/target"
)

// Target is a folder. Make it with [New].
type Target struct {
	disk   disk.FS
	root   string
	scheme string

	mu      sync.Mutex
	durable map[string]bool // folders whose names this process made sure of
}

var _ target.Target = (*Target)(nil)

// New is a target in a folder, which need not exist yet. The scheme is for messages: "file" or "hand".
func New(d disk.FS, scheme, root string) *Target {
	return &Target{disk: d, root: filepath.Clean(root), scheme: scheme, durable: map[string]bool{}}
}

// String names the folder.
func (t *Target) String() string { return t.scheme + ":" + t.root }

// Path is where an object is, for telling a person.
func (t *Target) Path(name string) string { return filepath.Join(t.root, filepath.FromSlash(name)) }

func (t *Target) fail(doing, name string, err error) error {
	return fmt.Errorf("%s: %s %q: %w", t, doing, name, err)
}

// folder makes the folder of an object. Folders that exist may be the work of a run that was killed before
// it could sync them, so each is made sure of once.
func (t *Target) folder(name string) (string, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	folder := filepath.Dir(t.Path(name))
	if t.durable[folder] {
		return folder, nil
	}
	if err := disk.MkdirAll(t.disk, folder); err != nil {
		return "", t.fail("making the folder of", name, err)
	}
	for f := folder; !t.durable[f]; f = filepath.Dir(f) {
		err := t.disk.SyncDir(filepath.Dir(f))
		// What is above the target need not be ours to read.
		if err != nil && !(f == t.root && errors.Is(err, fs.ErrPermission)) {
			return "", t.fail("making durable the folder of", name, err)
		}
		t.durable[f] = true
		if f == t.root {
			break
		}
	}
	return folder, nil
}

// Stat is target.Target's.
func (t *Target) Stat(ctx context.Context, name string) (target.Info, error) {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return target.Info{}, err
	}
	info, err := t.disk.Lstat(t.Path(name))
	if err != nil {
		return target.Info{}, t.fail("looking for", name, err)
	}
	if !info.Mode().IsRegular() {
		// A link could point anywhere; nothing that we wrote is one.
		return target.Info{}, t.fail("looking for", name, errors.New("something that is no plain file has that name: move it away"))
	}
	return target.Info{Name: name, Bytes: info.Size()}, nil
}

// Open is target.Target's.
func (t *Target) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if _, err := t.Stat(ctx, name); err != nil {
		return nil, err
	}
	f, err := t.disk.OpenFile(t.Path(name), os.O_RDONLY, 0)
	if err != nil {
		return nil, t.fail("opening", name, err)
	}
	return f, nil
}

// Create is target.Target's.
func (t *Target) Create(ctx context.Context, name string, c target.Content) error {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return err
	}
	full := t.Path(name)
	there, err := target.Holds(ctx, t, name, c)
	if err != nil {
		return err
	}
	folder, err := t.folder(name)
	if err != nil {
		return err
	}
	if there {
		// It may be the work of a run that was killed before the folder was synced.
		if err := t.disk.SyncDir(folder); err != nil {
			return t.fail("making durable", name, err)
		}
		return nil
	}
	temp, err := disk.WriteTemp(t.disk, folder, func(w io.Writer) error { return c.Copy(ctx, w) })
	if err != nil {
		return t.fail("writing", name, err)
	}
	err = t.place(temp, full)
	if errors.Is(err, fs.ErrExist) {
		t.disk.Remove(temp)
		there, err := target.Holds(ctx, t, name, c)
		if err == nil && !there {
			err = errors.New("it was there and is gone: another program works in that folder")
		}
		if err != nil {
			return err
		}
		return t.disk.SyncDir(folder)
	}
	if err == nil {
		if err = t.disk.SyncDir(folder); err != nil {
			// The name may never reach the disk, and a later sync may say otherwise: begin anew next time.
			t.disk.Remove(full)
		}
	}
	if err != nil {
		t.disk.Remove(temp)
		return t.fail("writing", name, err)
	}
	// The drop does not depend on this: what stays is swept by the next run.
	if err := t.disk.Remove(temp); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return t.fail("tidying up after", name, err)
	}
	return nil
}

// place gives the temporary file its name unless that is taken.
func (t *Target) place(temp, full string) error {
	err := t.disk.Link(temp, full)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	if !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EPERM) { // EPERM is what FAT on Linux says
		return err
	}
	if _, err := t.disk.Lstat(full); !errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			err = fs.ErrExist
		}
		return err
	}
	return t.disk.Rename(temp, full)
}

// Replace is target.Target's.
func (t *Target) Replace(ctx context.Context, name string, data []byte) error {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return err
	}
	if _, err := t.folder(name); err != nil {
		return err
	}
	if err := disk.Replace(t.disk, t.Path(name), data); err != nil {
		return t.fail("replacing", name, err)
	}
	return nil
}

// List is target.Target's. What has no name that an object can have is listed too, so that a folder in
// use for something else is not taken for an empty one.
func (t *Target) List(ctx context.Context) ([]target.Info, error) {
	var out []target.Info
	var walk func(folder, prefix string) error
	walk = func(folder, prefix string) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		entries, err := t.disk.ReadDir(folder)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		} else if err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
		for _, e := range entries {
			name := path.Join(prefix, e.Name())
			if e.IsDir() {
				if err := walk(filepath.Join(folder, e.Name()), name); err != nil {
					return err
				}
				continue
			}
			if disk.IsTemp(e.Name()) {
				continue
			}
			info, err := e.Info()
			if err != nil {
				return fmt.Errorf("%s: %w", t, err)
			}
			out = append(out, target.Info{Name: name, Bytes: info.Size()})
		}
		return nil
	}
	if err := walk(t.root, ""); err != nil {
		return nil, err
	}
	slices.SortFunc(out, func(a, b target.Info) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// Sweep is target.Target's.
func (t *Target) Sweep(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := disk.Sweep(t.disk, t.root); err != nil {
		return fmt.Errorf("%s: sweeping up: %w", t, err)
	}
	return nil
}
