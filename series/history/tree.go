package history

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing/filemode"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// maxBlob is the largest file in bytes that is read from git, as reading takes it into memory. A binary
// mesh of five million triangles has 250 MB.
const maxBlob = 512 << 20

// pointerStart begins a file that stands for a large one kept elsewhere (the pointer format that git's
// large-file extension writes).
const pointerStart = "version https://git-lfs."

// treeFS is a commit's tree as a file system. Links are not followed: opening one is an error.
type treeFS struct {
	root *object.Tree
	when time.Time
}

func (t treeFS) Open(name string) (fs.File, error) {
	fail := func(err error) (fs.File, error) { return nil, &fs.PathError{Op: "open", Path: name, Err: err} }
	if !fs.ValidPath(name) {
		return fail(fs.ErrInvalid)
	}
	if name == "." {
		return &openDir{tree: t.root, info: info{".", 0, filemode.Dir, t.when}, fs: t}, nil
	}
	e, err := t.root.FindEntry(name)
	if err != nil {
		return fail(fs.ErrNotExist)
	}
	switch e.Mode {
	case filemode.Dir:
		sub, err := t.root.Tree(name)
		if err != nil {
			return fail(err)
		}
		return &openDir{tree: sub, info: info{path.Base(name), 0, filemode.Dir, t.when}, fs: t}, nil
	case filemode.Regular, filemode.Executable, filemode.Deprecated:
	default:
		return fail(fmt.Errorf("it is a link or another repository, not a file"))
	}
	f, err := t.root.TreeEntryFile(e)
	if err != nil {
		return fail(err)
	}
	if f.Size > maxBlob {
		return fail(fmt.Errorf("it has %d bytes, more than the %d that are read from git", f.Size, maxBlob))
	}
	r, err := f.Reader()
	if err != nil {
		return fail(err)
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return fail(err)
	}
	if err := r.Close(); err != nil {
		return fail(err)
	}
	if len(data) < 1024 && strings.HasPrefix(string(data), pointerStart) {
		return fail(fmt.Errorf("git holds only a pointer to it, its content is kept elsewhere"))
	}
	return &openFile{bytes.NewReader(data), info{path.Base(name), f.Size, e.Mode, t.when}}, nil
}

// openFile also has ReadAt and Seek, for readers of zips.
type openFile struct {
	*bytes.Reader
	info info
}

func (f *openFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *openFile) Close() error               { return nil }

type openDir struct {
	tree *object.Tree
	info info
	fs   treeFS
	read int
}

func (d *openDir) Stat() (fs.FileInfo, error) { return d.info, nil }
func (d *openDir) Close() error               { return nil }
func (d *openDir) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: d.info.name, Err: fmt.Errorf("it is a folder")}
}

func (d *openDir) ReadDir(n int) ([]fs.DirEntry, error) {
	var all []fs.DirEntry
	for _, e := range d.tree.Entries {
		size := int64(0)
		if e.Mode.IsFile() {
			var err error
			if size, err = d.tree.Size(e.Name); err != nil {
				return nil, err
			}
		}
		all = append(all, fs.FileInfoToDirEntry(info{e.Name, size, e.Mode, d.fs.when}))
	}
	// Git sorts a folder as if its name ended in a slash.
	slices.SortFunc(all, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	rest := all[min(d.read, len(all)):]
	if n <= 0 {
		d.read = len(all)
		return rest, nil
	}
	if len(rest) == 0 {
		return nil, io.EOF
	}
	rest = rest[:min(n, len(rest))]
	d.read += len(rest)
	return rest, nil
}

type info struct {
	name string
	size int64
	mode filemode.FileMode
	when time.Time
}

func (i info) Name() string       { return i.name }
func (i info) Size() int64        { return i.size }
func (i info) ModTime() time.Time { return i.when }
func (i info) IsDir() bool        { return i.Mode().IsDir() }
func (i info) Sys() any           { return nil }
func (i info) Mode() fs.FileMode {
	switch i.mode {
	case filemode.Dir:
		return fs.ModeDir | 0o555
	case filemode.Executable:
		return 0o555
	case filemode.Symlink:
		return fs.ModeSymlink | 0o777
	case filemode.Submodule:
		return fs.ModeIrregular
	}
	return 0o444
}
