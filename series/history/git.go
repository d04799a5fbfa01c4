package history

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/config"
	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Git is a history in a git repository.
type Git struct {
	repo   *git.Repository
	top    string // the work tree's folder
	prefix string // the series' folder below it, "" or "a/b/"
}

var _ Keeper = (*Git)(nil)

// OpenGit opens the repository that a series' folder lies in. Error: [ErrNoRepository], or the disk's.
func OpenGit(folder string) (*Git, error) {
	folder, err := filepath.Abs(folder)
	if err != nil {
		return nil, err
	}
	if folder, err = filepath.EvalSymlinks(folder); err != nil {
		return nil, err
	}
	repo, err := git.PlainOpenWithOptions(folder, &git.PlainOpenOptions{DetectDotGit: true, EnableDotGitCommonDir: true})
	if errors.Is(err, git.ErrRepositoryNotExists) {
		return nil, ErrNoRepository
	} else if err != nil {
		return nil, fmt.Errorf("opening the git repository of %q: %w", folder, err)
	}
	tree, err := repo.Worktree()
	if err != nil {
		return nil, fmt.Errorf("the git repository of %q: %w", folder, err)
	}
	top, err := filepath.EvalSymlinks(tree.Filesystem.Root())
	if err != nil {
		return nil, err
	}
	below, err := filepath.Rel(top, folder)
	if err != nil || below == ".." || strings.HasPrefix(below, ".."+string(filepath.Separator)) {
		return nil, fmt.Errorf("the folder %q lies outside the work tree of its repository", folder)
	}
	g := &Git{repo: repo, top: top}
	if below != "." {
		g.prefix = filepath.ToSlash(below) + "/"
	}
	return g, nil
}

func tagName(design, revision string) string { return design + "/v" + revision }

// Revisions is Keeper's.
func (g *Git) Revisions(design string) ([]string, error) {
	if err := checkRevision(design, "0.0.0"); err != nil {
		return nil, err
	}
	refs, err := g.repo.Tags()
	if err != nil {
		return nil, err
	}
	var out []string
	err = refs.ForEach(func(r *plumbing.Reference) error {
		if revision, ok := strings.CutPrefix(r.Name().Short(), design+"/v"); ok && revisionForm.MatchString(revision) {
			out = append(out, revision)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	sortRevisions(out)
	return out, nil
}

// At is Keeper's.
func (g *Git) At(design, revision string) (fs.FS, error) {
	if err := checkRevision(design, revision); err != nil {
		return nil, err
	}
	commit, _, err := g.tag(tagName(design, revision))
	if err != nil {
		return nil, err
	}
	root, err := commit.Tree()
	if err == nil && g.prefix != "" {
		root, err = root.Tree(strings.TrimSuffix(g.prefix, "/"))
	}
	if err != nil {
		return nil, fmt.Errorf("tag %q: %w", tagName(design, revision), err)
	}
	return treeFS{root, commit.Committer.When.UTC()}, nil
}

// tag finds a tag's commit and, for an annotated one, its object.
func (g *Git) tag(name string) (*object.Commit, *object.Tag, error) {
	ref, err := g.repo.Tag(name)
	if errors.Is(err, git.ErrTagNotFound) {
		return nil, nil, fmt.Errorf("there is no tag %q: %w", name, fs.ErrNotExist)
	} else if err != nil {
		return nil, nil, fmt.Errorf("tag %q: %w", name, err)
	}
	tag, err := g.repo.TagObject(ref.Hash())
	switch {
	case errors.Is(err, plumbing.ErrObjectNotFound): // made by hand, without a message
		commit, err := g.repo.CommitObject(ref.Hash())
		if err != nil {
			return nil, nil, fmt.Errorf("tag %q: %w", name, err)
		}
		return commit, nil, nil
	case err != nil:
		return nil, nil, fmt.Errorf("tag %q: %w", name, err)
	}
	commit, err := tag.Commit()
	if err != nil {
		return nil, nil, fmt.Errorf("tag %q: %w", name, err)
	}
	return commit, tag, nil
}

// head is the present commit, nil in a repository without one.
func (g *Git) head() (*object.Commit, error) {
	ref, err := g.repo.Head()
	if errors.Is(err, plumbing.ErrReferenceNotFound) {
		return nil, nil
	} else if err != nil {
		return nil, fmt.Errorf("reading git's HEAD: %w", err)
	}
	return g.repo.CommitObject(ref.Hash())
}

// signature is who the repository says its user is.
func (g *Git) signature(now time.Time) (object.Signature, error) {
	c, err := g.repo.ConfigScoped(config.SystemScope)
	if err != nil {
		return object.Signature{}, fmt.Errorf("reading git's settings: %w", err)
	}
	name, email := c.User.Name, c.User.Email
	if c.Committer.Name != "" {
		name = c.Committer.Name
	}
	if c.Committer.Email != "" {
		email = c.Committer.Email
	}
	if name == "" || email == "" {
		return object.Signature{}, ErrNoName
	}
	return object.Signature{Name: name, Email: email, When: now}, nil
}
