package history

import (
	"fmt"
	"io/fs"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Head gives the series' folder as the present commit has it. A repository without one, or whose present commit
// has no such folder, gives an error that is fs.ErrNotExist.
func (g *Git) Head() (fs.FS, error) {
	commit, err := g.head()
	if err != nil {
		return nil, err
	}
	if commit == nil {
		return nil, fmt.Errorf("nothing is committed: %w", fs.ErrNotExist)
	}
	root, err := commit.Tree()
	if err == nil && g.prefix != "" {
		if root, err = root.Tree(strings.TrimSuffix(g.prefix, "/")); err == object.ErrDirectoryNotFound {
			return nil, fmt.Errorf("the folder is in no commit: %w", fs.ErrNotExist)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("reading the present commit: %w", err)
	}
	return treeFS{root, commit.Committer.When.UTC()}, nil
}

// States counts how many different contents each file has had, in the last `most` commits along the first parents.
// Files that no such commit has are not in it.
func (g *Git) States(files []string, most int) (map[string]int, error) {
	commit, err := g.head()
	if err != nil || commit == nil {
		return map[string]int{}, err
	}
	seen := map[string]map[plumbing.Hash]bool{}
	contents := contentCache{}
	for n := 0; commit != nil && n < most; n++ {
		for _, f := range files {
			h, err := contents.of(commit, g.prefix+f, g.repo.TreeObject)
			if err != nil {
				return nil, err
			}
			if h.IsZero() {
				continue
			}
			if seen[f] == nil {
				seen[f] = map[plumbing.Hash]bool{}
			}
			seen[f][h] = true
		}
		parents, err := parentsOf(commit)
		if err != nil {
			return nil, err
		}
		if len(parents) == 0 {
			break
		}
		commit = parents[0]
	}
	out := map[string]int{}
	for f, s := range seen {
		out[f] = len(s)
	}
	return out, nil
}
