package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/schedule"
)

func (a *app) reviseCmd() *cobra.Command {
	var show bool
	var answers []string
	cmd := &cobra.Command{
		Use:   "revise DESIGN|WEEK [[patch|minor|major] TEXT]",
		Short: "raise a design's revision: add an entry on top of its changes",
		Long: `Adds one line to the design's manifest and leaves every other byte alone. major: printed parts no longer
mate with older ones; minor: a new variant or part; patch: the rest. Without a level the one is taken that
follows from what changed since the last kept revision, as far as the manifest tells: whether parts still
mate only you know. Without a text nothing is written: what changed is compared, and the level and a text to
begin from are proposed.`,
		Example:           "  dropwright revise vent-minder patch \"step 4 names the right screw\" --now 2027-01-20T09:00:00Z\n  dropwright revise 3 \"a variant for the PC/104 stack\" --show --now 2027-01-20T09:00:00Z",
		Args:              cobra.RangeArgs(1, 3),
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			level := ""
			if len(args) == 1 {
				return a.draft(args[0])
			}
			if len(args) == 3 {
				level = args[1]
				if !slices.Contains(levels, level) {
					return usage("write patch, minor or major", "%q is no level", level)
				}
			}
			return a.revise(args[0], level, args[len(args)-1], answers, show)
		},
	}
	cmd.Flags().BoolVar(&show, "show", false, "show what would change and write nothing")
	cmd.Flags().StringSliceVar(&answers, "answers", nil, "builders' reports that it settles: r1,r2")
	return cmd
}

// revisable is the one design that a word names, with a manifest that can be read.
func (a *app) revisable(s *season, word string) (string, *catalogue.Entry, error) {
	name, err := a.oneDesign(s, []string{word})
	if err != nil {
		return "", nil, err
	}
	e, err := s.Load(name)
	if err != nil {
		return "", nil, machine("", "%w", err)
	}
	if e.Design == nil || len(e.Design.Changes) == 0 {
		return "", nil, unreadable("dropwright check "+name, "the manifest of %s cannot be read as meant", name)
	}
	return name, e, nil
}

// draft proposes a level and a text for what changed since the last kept revision, and writes nothing.
func (a *app) draft(word string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name, e, err := a.revisable(s, word)
	if err != nil {
		return err
	}
	last, diff, why := a.sinceLast(s, e)
	if diff == nil {
		return unreadable(fmt.Sprintf("dropwright revise %s patch \"what changed\"", name), "nothing can be proposed: %s", why)
	}
	level, why := compare.Level(*diff)
	lines := compare.Draft(*diff)
	fmt.Fprintf(a.stdout, "since %s %s: %s: %s\n", name, last, level, why)
	for _, l := range lines {
		fmt.Fprintf(a.stdout, "  %s\n", l)
	}
	text := "what changed"
	if len(lines) > 0 {
		text = lines[0]
	}
	fmt.Fprintf(a.stdout, "nothing was written; to write it: dropwright revise %s %s %q\n", name, level, text)
	return nil
}

// levels are the parts of a revision, the smallest change first.
var levels = []string{"patch", "minor", "major"}

func (a *app) revise(word, level, text string, answers []string, show bool) error {
	if text = strings.TrimSpace(text); text == "" || strings.ContainsAny(text, "\n\r") {
		return usage("say in one sentence what changed", "the text of a change is one line")
	}
	if slices.Contains(levels, text) {
		return usage(fmt.Sprintf("dropwright revise %s %s \"what changed\"", word, text), "the text is missing")
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name, e, err := a.revisable(s, word)
	if err != nil {
		return err
	}
	if err := a.answersOf(s, e, answers); err != nil {
		return err
	}
	proposed, why := a.proposeLevel(s, e)
	switch {
	case level == "":
		level = proposed
		a.ui.say("%s: %s", level, why)
	case slices.Index(levels, level) < slices.Index(levels, proposed):
		a.ui.say("%s rather than %s would tell builders more: %s", proposed, level, why)
	}
	now := e.Design.Revision()
	for _, r := range a.past(s, name).Released {
		if r.Revision.Compare(now) > 0 {
			now = r.Revision // what went out is never numbered again
		}
	}
	next := now.Next(level)
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	today := calendar.DateOf(a.now(), cal.Zone()).String()
	if last := e.Design.Changes[0].Date.V.String(); today < last {
		return refused("mend the date of the top entry, or the clock", "today is %s, and the top entry of changes is dated %s", today, last)
	}
	after, err := addChange(s, e, next, today, text, answers)
	if err != nil {
		return err
	}
	for _, l := range changedLines(e.Manifest, after) {
		fmt.Fprintln(a.stdout, l)
	}
	if show {
		fmt.Fprintln(a.stdout, "nothing was written: --show")
		return nil
	}
	if err := a.replaceFile(filepath.Join(s.dir, catalogue.DesignsDir, name, catalogue.DesignFile), after); err != nil {
		return err
	}
	a.ui.say("%s is %s now; next: dropwright check %s, commit, dropwright release", name, next, name)
	return nil
}

// addChange puts an entry on top of the changes and makes sure that it reads as meant.
func addChange(s *season, e *catalogue.Entry, next design.Revision, today, text string, answers []string) ([]byte, error) {
	shown := s.Path(e.Name, catalogue.DesignFile)
	ed, err := editing(shown, e.Manifest)
	if err != nil {
		return nil, err
	}
	changes := ed.root.Get("changes")
	if changes == nil {
		return nil, unreadable("add the entry by hand", "%s has no list of changes", shown)
	}
	settles := ""
	if len(answers) > 0 {
		settles = fmt.Sprintf(", answers: [%s]", strings.Join(answers, ", "))
	}
	ed.addItem(changes, fmt.Sprintf("{revision: %s, date: %s, text: %s%s}", next, today, quoteYAML(text), settles))
	after, err := ed.after()
	if err != nil {
		return nil, err
	}
	again, err := s.LoadFrom(manifestOnly{e.FS, after}, e.Name)
	if err != nil {
		return nil, err
	}
	d := again.Design
	if d == nil || len(d.Changes) != len(e.Design.Changes)+1 || d.Revision() != next || string(d.Changes[0].Text.V) != text || len(d.Changes[0].Answers) != len(answers) ||
		finding.Count(again.Findings, finding.Error) > finding.Count(e.Findings, finding.Error) {
		return nil, unreadable(fmt.Sprintf("add the entry by hand: {revision: %s, date: %s, text: …%s}", next, today, settles), "%s is written in a form that cannot be edited safely", shown)
	}
	return after, nil
}

// proposeLevel compares the design with its last kept revision, says what changed, and proposes the level.
func (a *app) proposeLevel(s *season, e *catalogue.Entry) (level, why string) {
	last, diff, why := a.sinceLast(s, e)
	if diff == nil {
		return "patch", why
	}
	for _, l := range compare.Draft(*diff) {
		a.ui.say("since %s: %s", last, l)
	}
	return compare.Level(*diff)
}

// sinceLast is what changed since the last kept revision; nil and why, where there is nothing to compare with.
func (a *app) sinceLast(s *season, e *catalogue.Entry) (last string, diff *compare.Diff, why string) {
	keeper, err := a.keeper(s)
	if err != nil {
		return "", nil, "there is no kept revision to compare with"
	}
	revisions, err := keeper.Revisions(e.Name)
	if err != nil || len(revisions) == 0 {
		return "", nil, "there is no kept revision to compare with"
	}
	last = revisions[len(revisions)-1]
	for _, r := range revisions {
		if schedule.Newer(r, last) {
			last = r
		}
	}
	was, err := a.designState(s, e.Name, last)
	if err != nil {
		return last, nil, "the kept revision cannot be read"
	}
	is, err := a.designState(s, e.Name, "")
	if err != nil {
		return last, nil, "the present files cannot be measured: dropwright check " + e.Name
	}
	d, err := bundle.Changes(was, is)
	if err != nil {
		return last, nil, "the two revisions cannot be compared: dropwright compare " + e.Name + "@" + last
	}
	return last, &d, ""
}

// manifestOnly is a design's folder with another manifest in it.
type manifestOnly struct {
	fs.FS
	manifest []byte
}

func (m manifestOnly) Open(name string) (fs.File, error) {
	if name != catalogue.DesignFile {
		return m.FS.Open(name)
	}
	return &memFile{Reader: bytes.NewReader(m.manifest), size: int64(len(m.manifest))}, nil
}

// memFile is a file in memory.
type memFile struct {
	*bytes.Reader
	size int64
}

func (f *memFile) Stat() (fs.FileInfo, error) { return f, nil }
func (f *memFile) Close() error               { return nil }
func (f *memFile) Name() string               { return catalogue.DesignFile }
func (f *memFile) Size() int64                { return f.size }
func (f *memFile) Mode() fs.FileMode          { return 0o444 }
func (f *memFile) ModTime() time.Time         { return time.Time{} }
func (f *memFile) IsDir() bool                { return false }
func (f *memFile) Sys() any                   { return nil }
