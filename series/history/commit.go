package history

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/config"
	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/filemode"
	"github.com/go-git/go-git/v5/plumbing/format/index"
	"github.com/go-git/go-git/v5/plumbing/object"
	"github.com/go-git/go-git/v5/storage/filesystem"
)

// maxCommit is the largest file in bytes that is committed here. go-git holds a file several times over in
// memory while it packs it; the git program does not.
const maxCommit = 64 << 20

// Commit commits exactly the listed files as they lie there, on top of the present commit, and leaves
// everything else, staged or not, as it is. It returns the new commit in hex; with nothing to commit, the
// present one. Hooks are not run.
func (g *Git) Commit(files []string, message string, now time.Time) (string, error) {
	dirty, err := g.Unclean(files)
	if err != nil {
		return "", err
	}
	head, err := g.head()
	if err != nil {
		return "", err
	}
	if len(dirty) == 0 && head != nil {
		return head.Hash.String(), nil
	}
	who, err := g.signature(now)
	if err != nil {
		return "", err
	}
	c := commitment{git: g, blobs: map[string]object.TreeEntry{}}
	for _, u := range dirty {
		if err := c.add(u.Path); err != nil {
			return "", fmt.Errorf("committing %q: %w", u.Path, err)
		}
	}
	var root *object.Tree
	var parents []plumbing.Hash
	if head != nil {
		parents = []plumbing.Hash{head.Hash}
		if root, err = head.Tree(); err != nil {
			return "", err
		}
	}
	tree, err := c.tree(root, "")
	if err != nil {
		return "", err
	}
	commit := &object.Commit{Author: who, Committer: who, Message: strings.TrimSpace(message) + "\n", TreeHash: tree, ParentHashes: parents}
	obj := g.repo.Storer.NewEncodedObject()
	if err := commit.Encode(obj); err != nil {
		return "", err
	}
	hash, err := g.repo.Storer.SetEncodedObject(obj)
	if err != nil {
		return "", err
	}
	ref, old, err := g.branch()
	if err != nil {
		return "", err
	}
	if err := g.point(ref, hash, old, append(c.written, hash)...); err != nil {
		return "", fmt.Errorf("moving git's branch: %w", err)
	}
	return hash.String(), c.stage()
}

// branch is the reference that a commit moves: the branch that HEAD names, even if it is not born yet, or
// HEAD itself when detached.
func (g *Git) branch() (plumbing.ReferenceName, *plumbing.Reference, error) {
	head, err := g.repo.Reference(plumbing.HEAD, false)
	if err != nil {
		return "", nil, err
	}
	name := plumbing.HEAD
	if head.Type() == plumbing.SymbolicReference {
		name = head.Target()
	}
	old, err := g.repo.Reference(name, false)
	if errors.Is(err, plumbing.ErrReferenceNotFound) {
		return name, nil, nil
	}
	return name, old, err
}

// commitment collects what one commit changes.
type commitment struct {
	git     *Git
	blobs   map[string]object.TreeEntry // by path from the top of the repository
	written []plumbing.Hash
}

func (c *commitment) add(file string) error {
	full := filepath.Join(c.git.top, filepath.FromSlash(c.git.prefix+file))
	info, err := os.Lstat(full)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return errors.New("it is no plain file")
	}
	if info.Size() > maxCommit {
		return fmt.Errorf("it has %d bytes; commit it with the git program", info.Size())
	}
	data, err := os.ReadFile(full)
	if err != nil {
		return err
	}
	if isText(data) && c.git.convertsLineEnds() {
		data = unixLines(data)
	}
	obj := c.git.repo.Storer.NewEncodedObject()
	obj.SetType(plumbing.BlobObject)
	w, err := obj.Writer()
	if err != nil {
		return err
	}
	if _, err := w.Write(data); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	hash, err := c.git.repo.Storer.SetEncodedObject(obj)
	if err != nil {
		return err
	}
	mode := filemode.Regular
	if info.Mode()&0o100 != 0 {
		mode = filemode.Executable
	}
	c.written = append(c.written, hash)
	c.blobs[c.git.prefix+file] = object.TreeEntry{Hash: hash, Mode: mode}
	return nil
}

// convertsLineEnds says whether git would change CRLF to LF on the way in; go-git does not.
func (g *Git) convertsLineEnds() bool {
	c, err := g.repo.ConfigScoped(config.SystemScope)
	if err != nil || c.Raw == nil {
		return false
	}
	v := strings.ToLower(c.Raw.Section("core").Option("autocrlf"))
	return v == "true" || v == "input"
}

// tree writes the tree below a folder ("" or "a/b/") with the changes in it.
func (c *commitment) tree(old *object.Tree, folder string) (plumbing.Hash, error) {
	entries := map[string]object.TreeEntry{}
	if old != nil {
		for _, e := range old.Entries {
			entries[e.Name] = e
		}
	}
	folders := map[string]bool{}
	for path, e := range c.blobs {
		rest, ok := strings.CutPrefix(path, folder)
		if !ok {
			continue
		}
		if name, _, deeper := strings.Cut(rest, "/"); deeper {
			folders[name] = true
		} else {
			e.Name = name
			entries[name] = e
		}
	}
	for name := range folders {
		var below *object.Tree
		if e, ok := entries[name]; ok && e.Mode == filemode.Dir {
			var err error
			if below, err = c.git.repo.TreeObject(e.Hash); err != nil {
				return plumbing.ZeroHash, err
			}
		}
		hash, err := c.tree(below, folder+name+"/")
		if err != nil {
			return plumbing.ZeroHash, err
		}
		entries[name] = object.TreeEntry{Name: name, Mode: filemode.Dir, Hash: hash}
	}
	tree := &object.Tree{}
	for _, e := range entries {
		tree.Entries = append(tree.Entries, e)
	}
	slices.SortFunc(tree.Entries, func(a, b object.TreeEntry) int { return strings.Compare(sortName(a), sortName(b)) })
	obj := c.git.repo.Storer.NewEncodedObject()
	if err := tree.Encode(obj); err != nil {
		return plumbing.ZeroHash, err
	}
	hash, err := c.git.repo.Storer.SetEncodedObject(obj)
	c.written = append(c.written, hash)
	return hash, err
}

// sortName is what git orders a tree by: a folder as if its name ended in a slash.
func sortName(e object.TreeEntry) string {
	if e.Mode == filemode.Dir {
		return e.Name + "/"
	}
	return e.Name
}

// stage makes the index agree with the commit for the committed files, so that git status is clean.
func (c *commitment) stage() error {
	idx, err := c.git.repo.Storer.Index()
	if err != nil {
		return err
	}
	for path, e := range c.blobs {
		entry, err := idx.Entry(path)
		if err != nil {
			entry = &index.Entry{Name: path}
			idx.Entries = append(idx.Entries, entry)
		}
		// Without times git compares the content anew, which is right.
		*entry = index.Entry{Name: path, Hash: e.Hash, Mode: e.Mode}
	}
	slices.SortFunc(idx.Entries, func(a, b *index.Entry) int { return strings.Compare(a.Name, b.Name) })
	return c.git.repo.Storer.SetIndex(idx)
}

// point sets a reference once the new objects are durable, and makes it durable too: git itself was bitten
// by empty references after a power cut (its core.fsync setting), and go-git syncs nothing.
func (g *Git) point(name plumbing.ReferenceName, hash plumbing.Hash, old *plumbing.Reference, written ...plumbing.Hash) error {
	for _, h := range written {
		hex := h.String()
		if err := g.sync("objects/" + hex[:2] + "/" + hex[2:]); err != nil {
			return err
		}
	}
	if err := g.repo.Storer.CheckAndSetReference(plumbing.NewHashReference(name, hash), old); err != nil {
		return err
	}
	return g.sync(name.String())
}

// sync makes a file of the repository and its name durable. What is in a pack is not there, and older.
func (g *Git) sync(name string) error {
	storage, ok := g.repo.Storer.(*filesystem.Storage)
	if !ok {
		return nil
	}
	full := filepath.Join(storage.Filesystem().Root(), filepath.FromSlash(name))
	f, err := os.Open(full)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, os.ErrPermission) {
		err = nil // Windows syncs no file that is open for reading
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(full))
}
