package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"dropwright/bundle/adopt"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/bundle/source"
	"dropwright/series/catalogue"
	"dropwright/series/history"
)

// adoptUpdate compares a design with the meshes of its folder, and writes new names and new parts into its
// manifest when it may.
func (a *app) adoptUpdate(arg string, o adoptOptions) error {
	dir, err := a.adoptedDesign(arg)
	if err != nil {
		return err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return machine("check that you may read the folder", "%w", err)
	}
	defer root.Close()
	target := filepath.Join(dir, catalogue.DesignFile)
	data, err := fs.ReadFile(root.FS(), catalogue.DesignFile)
	if err != nil {
		return machine("check that you may read it", "reading %s: %w", a.shown(target), plainly(err))
	}
	d, text, found := manifest.Decode(filepath.Base(dir), a.shown(target), data, manifest.Context{})
	if d == nil || finding.Count(found, finding.Error) > 0 {
		a.complain(found, text)
		return unreadable("mend it first", "%s cannot be read as meant", a.shown(target))
	}
	before, since := a.stateBefore(dir, d)
	if before == nil {
		a.ui.say("note: changed meshes cannot be told: %s", since)
	}
	changes, err := adopt.Update(root.FS(), d, before, a.adoptReading(dir, root.FS(), d.Folder, nil))
	a.ui.wipe()
	switch {
	case errors.Is(err, adopt.ErrStopped):
		return a.ctx.Err()
	case err != nil:
		return machine("check that you may read the folder", "reading %s: %w", a.shown(dir), err)
	}
	after, err := updatedManifest(a.shown(target), data, changes)
	if err != nil {
		return err
	}
	if _, _, found := manifest.Decode(d.Folder, a.shown(target), after, manifest.Context{}); finding.Count(found, finding.Error) > 0 {
		return unreadable("change it by hand", "%s is written in a form that cannot be edited safely", a.shown(target))
	}
	lines := changedLines(data, after)
	written := false
	if a.format != "json" {
		a.printChanges(changes, since, before != nil)
		for _, l := range lines {
			fmt.Fprintln(a.stdout, l)
		}
	}
	if len(lines) > 0 && !o.dryRun {
		if !o.yes {
			yes, asked := a.ask("write this to " + a.shown(target) + "?")
			if !asked {
				a.ui.say("nothing was written: no terminal to ask on; --yes writes")
			}
			o.yes = yes
		}
		if o.yes {
			if err := a.replaceFile(target, after); err != nil {
				return err
			}
			written = true
			a.ui.say("%s is changed", a.shown(target))
		}
	}
	if a.format == "json" {
		if changes == nil {
			changes = []adopt.Change{}
		}
		return a.asJSON(map[string]any{"design": d.Folder, "compared_with": since, "written": written, "changes": changes})
	}
	return nil
}

// adoptedDesign is the folder of a design: of one named on the command line, or the folder itself.
func (a *app) adoptedDesign(arg string) (string, error) {
	dir := a.abs(arg)
	if _, err := os.Stat(filepath.Join(dir, catalogue.DesignFile)); err == nil {
		return dir, nil
	}
	if st, err := os.Stat(dir); err == nil && st.IsDir() {
		return "", usage("`dropwright adopt "+arg+"` drafts one", "there is no %s in %s to compare with", catalogue.DesignFile, arg)
	}
	s, err := a.sound()
	if err != nil {
		return "", err
	}
	defer s.close()
	name, err := a.oneDesign(s, []string{arg})
	if err != nil {
		return "", err
	}
	return filepath.Join(s.dir, catalogue.DesignsDir, name), nil
}

// stateBefore gives the meshes as they were: in the revision that the manifest names, when the history has it, else
// in the last commit. since says which, or why there is none.
func (a *app) stateBefore(dir string, d *design.Design) (before func(string) ([]byte, bool), since string) {
	from := func(f fs.FS, below, since string) (func(string) ([]byte, bool), string) {
		return func(name string) ([]byte, bool) {
			data, err := fs.ReadFile(f, path.Join(below, name))
			return data, err == nil
		}, since
	}
	if s, err := a.seriesFor(dir, false); err == nil && s != nil {
		defer s.close()
		if keeper, err := a.keeper(s); err == nil && lieIn(s, dir, d.Folder) {
			if at, err := keeper.At(d.Folder, d.Revision().String()); err == nil {
				return from(at, path.Join(catalogue.DesignsDir, d.Folder), "revision "+d.Revision().String())
			}
		}
	}
	g, err := history.OpenGit(dir)
	if err != nil {
		return nil, "the folder is in no git repository"
	}
	head, err := g.Head()
	if err != nil {
		return nil, "nothing of the folder is committed"
	}
	return from(head, "", "the last commit")
}

// printChanges says what is different.
func (a *app) printChanges(changes []adopt.Change, since string, compared bool) {
	if len(changes) == 0 {
		if compared {
			fmt.Fprintf(a.stdout, "every mesh of the manifest is there, and is as in %s; no new one\n", since)
		} else {
			fmt.Fprintln(a.stdout, "every mesh of the manifest is there; no new one")
		}
		return
	}
	rows := [][]string{{"part", "mesh", "", "what"}}
	for _, c := range changes {
		rows = append(rows, []string{c.Part, c.File, c.Kind, c.Text})
	}
	a.ui.table(rows)
	if compared {
		fmt.Fprintf(a.stdout, "compared with %s\n", since)
	}
	for _, c := range changes {
		if c.Kind == "changed" {
			a.ui.say("next: `dropwright compare` says what to print again; `dropwright revise` begins the revision that goes out")
			break
		}
	}
}

// updatedManifest writes new names of meshes and new parts into a manifest; everything else stays as it is.
func updatedManifest(shown string, data []byte, changes []adopt.Change) ([]byte, error) {
	e, err := editing(shown, data)
	if err != nil {
		return nil, err
	}
	var entries []string
	for _, c := range changes {
		switch c.Kind {
		case "renamed":
			e.swapQuoted(c.At, c.Was, c.File)
		case "new":
			entries = append(entries, c.Entry)
		}
	}
	if len(entries) > 0 {
		e.appendItems(e.root, "parts", entries)
	}
	return e.after()
}

// swapQuoted replaces a path, quoting the new one where the old one was not and it has to be.
func (e *edit) swapQuoted(at finding.Place, was, text string) {
	at.Width = 0
	from := e.offset(at)
	if e.err == nil && strings.HasPrefix(string(e.before[from:]), was) {
		e.patches = append(e.patches, patch{from, from + len(was), quoteYAML(text)})
		return
	}
	e.swap(at, was, text)
}

// appendItems puts entries at the end of a list of the first level.
func (e *edit) appendItems(n *source.Node, key string, entries []string) {
	list := n.Get(key)
	if list == nil || list.Kind != source.List || len(list.Items) == 0 {
		e.fail(n.At, "it has no list of "+key)
		return
	}
	if e.flow(list) {
		e.addItem(list, strings.Join(entries, ", "))
		return
	}
	first := list.Items[0].At
	start := e.indent(first)
	dash := strings.LastIndexByte(start, '-')
	if dash < 0 || !blank.MatchString(start[:dash]) {
		e.fail(first, "its dash does not stand before it in the same line")
		return
	}
	line := len(e.starts) + 1 // behind the last line
	for i, p := range n.Pairs {
		if p.Key == key && i+1 < len(n.Pairs) {
			line = n.Pairs[i+1].KeyAt.Line
		}
	}
	// Blank lines and comments above the next key belong to it.
	text := strings.Split(string(e.before), "\n")
	for line > 2 && line-2 < len(text) {
		if l := strings.TrimSpace(text[line-2]); l != "" && (!strings.HasPrefix(l, "#") || strings.HasPrefix(text[line-2], " ")) {
			break
		}
		line--
	}
	at := len(e.before)
	lead := ""
	if line <= len(e.starts) {
		at = e.starts[line-1]
	} else if !strings.HasSuffix(string(e.before), "\n") {
		lead = e.newline()
	}
	var b strings.Builder
	for _, x := range entries {
		b.WriteString(start[:dash] + "- " + x + e.newline())
	}
	e.patches = append(e.patches, patch{at, at, lead + b.String()})
}

// ask puts a question that is answered with y. asked is false where nobody is there to answer.
func (a *app) ask(question string) (yes, asked bool) {
	f, ok := a.stdin.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) || !isTerminal(a.stderr) {
		return false, false
	}
	fmt.Fprintf(a.stderr, "%s [y/N] ", question)
	line, err := bufio.NewReader(f).ReadString('\n')
	if err != nil && err != io.EOF {
		return false, true
	}
	line = strings.ToLower(strings.TrimSpace(line))
	return line == "y" || line == "yes", true
}
