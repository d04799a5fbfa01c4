package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/config"
	"github.com/go-git/go-git/v5/plumbing/object"

	"dropwright/series/history"
	"dropwright/series/release"
)

// startHistory makes a folder a git repository and commits what it holds, without needing the git program. Without
// who it is the user that git knows, or the program where git knows nobody.
func (a *app) startHistory(dir, message string, who *object.Signature) error {
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
	if who == nil {
		who = &object.Signature{Name: "dropwright init", Email: "init@localhost", When: a.now()}
		if c, err := repo.ConfigScoped(config.SystemScope); err == nil && c.User.Name != "" && c.User.Email != "" {
			who.Name, who.Email = c.User.Name, c.User.Email
		}
	}
	if _, err := tree.Commit(message, &git.CommitOptions{Author: who, Committer: who}); err != nil {
		return machine("", "committing: %w", err)
	}
	return nil
}

// records are the files beside series.yaml that a release writes or relies on, besides the ledger.
var records = []string{trialsFile, ".gitattributes", ".gitignore", schemaFile("design"), schemaFile("series")}

// keepRecords commits the ledger and what belongs to it once something went out, or says what is left to commit. A
// failure is told and no more: what went out is out.
func (a *app) keepRecords(s *season, rehearsal, commit bool) {
	keeper, err := a.keeper(s)
	if err != nil {
		return // whoever releases without a history was told
	}
	if _, folder := keeper.(*history.Folder); folder {
		return
	}
	var files []string
	for _, name := range append([]string{filepath.Base(ledgerPath(s, rehearsal))}, records...) {
		if info, err := os.Lstat(filepath.Join(s.dir, name)); err == nil && info.Mode().IsRegular() {
			files = append(files, name)
		} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return
		}
	}
	unclean, err := keeper.Unclean(files)
	if err != nil || len(unclean) == 0 {
		return
	}
	files = files[:0]
	for _, u := range unclean {
		files = append(files, u.Path)
	}
	if c, ok := keeper.(release.Committer); ok && commit {
		if _, err := c.Commit(files, "record what went out", a.now()); err != nil {
			a.ui.say("note: %s not committed: %v", strings.Join(files, ", "), err)
			return
		}
		a.ui.say("committed %s", strings.Join(files, ", "))
	} else if !rehearsal {
		a.ui.say("to commit: git add %s && git commit -m \"record what went out\"", strings.Join(files, " "))
	}
}
