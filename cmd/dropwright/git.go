package main

import (
	"path/filepath"

	"github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// startHistory makes a folder a git repository and commits what it holds, without needing the git program.
func (a *app) startHistory(dir, message string) error {
	repo, err := git.PlainInit(dir, false)
	if err != nil {
		return machine("", "making a git repository in %s: %w", a.shown(dir), err)
	}
	tree, err := repo.Worktree()
	if err != nil {
		return machine("", "%w", err)
	}
	if err := tree.AddWithOptions(&git.AddOptions{All: true}); err != nil {
		return machine("", "adding the files of %s to git: %w", filepath.Base(dir), err)
	}
	who := &object.Signature{Name: "dropwright demo", Email: "demo@hollow-lane.example", When: a.now()}
	if _, err := tree.Commit(message, &git.CommitOptions{Author: who, Committer: who}); err != nil {
		return machine("", "committing: %w", err)
	}
	return nil
}
