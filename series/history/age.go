package history

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/filemode"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Changed is Keeper's: the committer's time of the commit that last changed each file, found as `git log
// -1 -- FILE` finds it: a merge is passed over towards the first parent that has the same content.
func (g *Git) Changed(files []string) (map[string]time.Time, error) {
	out := map[string]time.Time{}
	head, err := g.head()
	if err != nil || head == nil {
		return out, err
	}
	contents := contentCache{}
	open := map[plumbing.Hash][]string{}
	for _, f := range files {
		h, err := contents.of(head, g.prefix+f, g.repo.TreeObject)
		if err != nil {
			return nil, err
		}
		if !h.IsZero() {
			open[head.Hash] = append(open[head.Hash], f)
		}
	}
	queue := []*object.Commit{head}
	for len(queue) > 0 {
		c := queue[0]
		queue = queue[1:]
		waiting := open[c.Hash]
		delete(open, c.Hash)
		if len(waiting) == 0 {
			continue
		}
		parents, err := parentsOf(c)
		if err != nil {
			return nil, err
		}
	files:
		for _, f := range waiting {
			here, err := contents.of(c, g.prefix+f, g.repo.TreeObject)
			if err != nil {
				return nil, err
			}
			for _, p := range parents {
				there, err := contents.of(p, g.prefix+f, g.repo.TreeObject)
				if err != nil {
					return nil, err
				}
				if here == there {
					if len(open[p.Hash]) == 0 {
						queue = append(queue, p)
					}
					open[p.Hash] = append(open[p.Hash], f)
					continue files
				}
			}
			out[f] = c.Committer.When.UTC()
		}
	}
	return out, nil
}

// parentsOf gives the parents that the repository has: a shallow clone ends somewhere.
func parentsOf(c *object.Commit) ([]*object.Commit, error) {
	var out []*object.Commit
	for i := range c.NumParents() {
		p, err := c.Parent(i)
		if err == plumbing.ErrObjectNotFound || err == object.ErrParentNotFound {
			continue
		} else if err != nil {
			return nil, fmt.Errorf("reading git's commit %s: %w", c.Hash, err)
		}
		out = append(out, p)
	}
	return out, nil
}

// contentCache remembers trees by their hash, since most folders do not change from one commit to the next.
type contentCache map[plumbing.Hash]*object.Tree

// of gives the hash of a file's content in a commit, zero if it has no such file.
func (c contentCache) of(commit *object.Commit, path string, get func(plumbing.Hash) (*object.Tree, error)) (plumbing.Hash, error) {
	at := commit.TreeHash
	for deeper := true; deeper; {
		var name string
		name, path, deeper = strings.Cut(path, "/")
		tree, ok := c[at]
		if !ok {
			var err error
			if tree, err = get(at); err != nil {
				return plumbing.ZeroHash, fmt.Errorf("reading git's commit %s: %w", commit.Hash, err)
			}
			c[at] = tree
		}
		i := slices.IndexFunc(tree.Entries, func(e object.TreeEntry) bool { return e.Name == name })
		if i < 0 || deeper && tree.Entries[i].Mode != filemode.Dir {
			return plumbing.ZeroHash, nil
		}
		at = tree.Entries[i].Hash
	}
	return at, nil
}
