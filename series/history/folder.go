package history

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// FolderName is the folder below a series' folder in which `history: folder` keeps revisions.
const FolderName = "history"

// frozenName is the file in each kept revision that is written last.
const frozenName = "frozen.json"

// tempPrefix begins the names of revisions that are being copied.
const tempPrefix = ".dropwright-tmp-"

// Folder is a history without git: history/DESIGN/vX.Y.Z holds copies of the files, under their paths from
// the series' folder.
type Folder struct{ series string }

var _ Keeper = (*Folder)(nil)

// OpenFolder is the folder history of a series. Nothing is made until a revision is frozen.
func OpenFolder(series string) *Folder { return &Folder{series} }

type frozen struct {
	Format int    `json:"format"`
	Digest string `json:"digest"`
}

func (f *Folder) place(design, revision string) string {
	return filepath.Join(f.series, FolderName, design, "v"+revision)
}

// Revisions is Keeper's.
func (f *Folder) Revisions(design string) ([]string, error) {
	if err := checkRevision(design, "0.0.0"); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(filepath.Join(f.series, FolderName, design))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		if r, ok := strings.CutPrefix(e.Name(), "v"); ok && e.IsDir() && revisionForm.MatchString(r) {
			out = append(out, r)
		}
	}
	sortRevisions(out)
	return out, nil
}

// At is Keeper's.
func (f *Folder) At(design, revision string) (fs.FS, error) {
	if err := checkRevision(design, revision); err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(f.place(design, revision))
	if err != nil {
		return nil, fmt.Errorf("revision %s of %q in the folder %s: %w", revision, design, FolderName, err)
	}
	return root.FS(), nil
}

// Unclean is Keeper's: a folder history has nothing to compare with.
func (f *Folder) Unclean([]string) ([]Unclean, error) { return nil, nil }

// Changed is Keeper's: a folder history knows no times.
func (f *Folder) Changed([]string) (map[string]time.Time, error) { return nil, nil }

// Freeze is Keeper's. A copy appears whole or not at all.
func (f *Folder) Freeze(r Request) (Frozen, error) {
	if err := checkRevision(r.Design, r.Revision); err != nil {
		return Frozen{}, err
	}
	final := f.place(r.Design, r.Revision)
	parent := filepath.Dir(final)
	source := filepath.ToSlash(filepath.Join(FolderName, r.Design, "v"+r.Revision))
	if digest, err := readFrozen(final); err == nil {
		if digest != r.Digest {
			return Frozen{}, &Taken{r.Design, r.Revision, fmt.Sprintf("with digest %.12s, not %.12s", digest, r.Digest)}
		}
		return Frozen{Source: source}, nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return Frozen{}, fmt.Errorf("reading %q: %w", filepath.Join(final, frozenName), err)
	}
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return Frozen{}, err
	}
	leftovers, _ := filepath.Glob(filepath.Join(parent, tempPrefix+"*"))
	for _, l := range leftovers {
		if err := os.RemoveAll(l); err != nil {
			return Frozen{}, err
		}
	}
	temp, err := os.MkdirTemp(parent, tempPrefix)
	if err != nil {
		return Frozen{}, err
	}
	err = f.copyTo(temp, r)
	if err == nil {
		err = os.Rename(temp, final)
	}
	if err == nil {
		for _, dir := range []string{parent, filepath.Dir(parent), f.series} {
			err = errors.Join(err, syncFolder(dir))
		}
	}
	if err != nil {
		return Frozen{}, fmt.Errorf("keeping revision %s of %q: %w", r.Revision, r.Design, errors.Join(err, os.RemoveAll(temp)))
	}
	return Frozen{Source: source}, nil
}

func readFrozen(folder string) (digest string, err error) {
	data, err := os.ReadFile(filepath.Join(folder, frozenName))
	if err != nil {
		return "", err
	}
	var fr frozen
	if err := json.Unmarshal(data, &fr); err != nil || fr.Format != 1 {
		return "", fmt.Errorf("it is not of a known form")
	}
	return fr.Digest, nil
}

// copyTo copies the files through os.Root, so that no link leads out of the series.
func (f *Folder) copyTo(temp string, r Request) error {
	from, err := os.OpenRoot(f.series)
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := os.OpenRoot(temp)
	if err != nil {
		return err
	}
	defer to.Close()
	folders := map[string]bool{temp: true}
	for _, name := range r.Files {
		if !fs.ValidPath(name) {
			return fmt.Errorf("%q is no path inside the series", name)
		}
		if err := to.MkdirAll(filepath.Dir(filepath.FromSlash(name)), 0o777); err != nil {
			return err
		}
		for d := filepath.Dir(filepath.Join(temp, filepath.FromSlash(name))); !folders[d]; d = filepath.Dir(d) {
			folders[d] = true
		}
		if err := copyFile(from, to, name); err != nil {
			return err
		}
	}
	text, err := json.Marshal(frozen{1, r.Digest})
	if err != nil {
		return err
	}
	w, err := to.Create(frozenName)
	if err != nil {
		return err
	}
	_, err = w.Write(append(text, '\n'))
	if err := errors.Join(err, w.Sync(), w.Close()); err != nil {
		return err
	}
	for d := range folders {
		if err := syncFolder(d); err != nil {
			return err
		}
	}
	return nil
}

func copyFile(from, to *os.Root, name string) error {
	name = filepath.FromSlash(name)
	info, err := from.Lstat(name)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("%q is no plain file", name)
	}
	r, err := from.Open(name)
	if err != nil {
		return err
	}
	defer r.Close()
	w, err := to.Create(name)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	if err == nil {
		err = w.Sync()
	}
	return errors.Join(err, w.Close())
}

// syncFolder makes the names in a folder durable.
func syncFolder(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, os.ErrPermission) {
		err = nil // Windows does not sync folders
	}
	return errors.Join(err, f.Close())
}
