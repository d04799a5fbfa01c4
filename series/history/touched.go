package history

import (
	"slices"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// mostCommits is how far back Touched looks: a hundred commits a week for ten years.
const mostCommits = 50_000

// Present names the present commit, "" in a repository without one: what Changed and Touched say stays the
// same while it does.
func (g *Git) Present() (string, error) {
	head, err := g.head()
	if err != nil || head == nil {
		return "", err
	}
	return head.Hash.String(), nil
}

// Touched tells when each folder was worked on: the committer's times, oldest first, of the commits whose
// content of the folder differs from that of every parent (of those that `git log -- FOLDER` would list with
// --full-history, merges that only bring both sides together left out). Folders without a commit are not in it.
func (g *Git) Touched(folders []string) (map[string][]time.Time, error) {
	out := map[string][]time.Time{}
	head, err := g.head()
	if err != nil || head == nil {
		return out, err
	}
	contents := contentCache{}
	seen := map[plumbing.Hash]bool{head.Hash: true}
	queue := []*object.Commit{head}
	for n := 0; len(queue) > 0 && n < mostCommits; n++ {
		c := queue[0]
		queue = queue[1:]
		parents, err := parentsOf(c)
		if err != nil {
			return nil, err
		}
		for _, p := range parents {
			if !seen[p.Hash] {
				seen[p.Hash] = true
				queue = append(queue, p)
			}
		}
		if slices.ContainsFunc(parents, func(p *object.Commit) bool { return p.TreeHash == c.TreeHash }) {
			continue
		}
		for _, f := range folders {
			here, err := contents.of(c, g.prefix+f, g.repo.TreeObject)
			if err != nil {
				return nil, err
			}
			if here.IsZero() {
				continue
			}
			fresh := true
			for _, p := range parents {
				there, err := contents.of(p, g.prefix+f, g.repo.TreeObject)
				if err != nil {
					return nil, err
				}
				fresh = fresh && here != there
			}
			if fresh {
				out[f] = append(out[f], c.Committer.When.UTC())
			}
		}
	}
	for f := range out {
		slices.SortFunc(out[f], time.Time.Compare)
	}
	return out, nil
}
