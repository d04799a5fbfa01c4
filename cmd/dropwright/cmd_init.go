package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/series/catalogue"
	"dropwright/series/history"
)

// ignored keeps out of git what is made from the series, and what only a run needs.
const ignored = "# what channels and the store hold is made from the series, not part of it\n/outbox/\n/store/\n*.lock\n"

// attributes keep git from changing line ends in the ledgers.
const attributes = "# the ledger's bytes are hashed: no line end may change\nledger*.jsonl -text\n"

func (a *app) initCmd() *cobra.Command {
	var noGit bool
	cmd := &cobra.Command{
		Use:   "init DIR",
		Short: "start a series: a folder with series.yaml",
		Long: `Writes a series to start from into an empty folder: series.yaml with a calendar, one printer and
two filaments to replace by yours, the schemas that editors read, and a list for ideas. Where the folder lies
in no git repository it becomes one, because releases are tagged there; the git program is not needed for it.`,
		Example: "  dropwright init my-season\n  cd my-season && dropwright new wall-hook",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "."
			if len(args) == 1 {
				dir = args[0]
			}
			return a.initSeries(dir, noGit)
		},
	}
	cmd.Flags().BoolVar(&noGit, "no-git", false, "make no git repository: what goes out is copied to the folder history/ instead of being tagged")
	return cmd
}

func (a *app) initSeries(arg string, noGit bool) error {
	dir := a.abs(arg)
	entries, _ := os.ReadDir(dir) // a folder that cannot be read is told below
	if fresh := len(entries) == 1 && entries[0].Name() == ".git"; !fresh {
		if err := a.emptyFolder(dir, arg); err != nil {
			return err
		}
	}
	name := design.Kebab(filepath.Base(dir))
	today := a.now()
	first := today.AddDate(0, 0, 28+int((time.Friday-today.Weekday()+7)%7)) // four weeks to make the first one
	zone := a.getenv("TZ")
	if _, err := time.LoadLocation(zone); err != nil || !strings.Contains(zone, "/") {
		zone = "UTC"
	}
	files := map[string][]byte{
		catalogue.SeriesFile: []byte(fmt.Sprintf(seriesTemplate, name, titleOf(name), check.PlaceholderMaker, first.Format("2006-01-02"), zone)),
		"ideas.csv":          []byte("name,asked,note\n"),
		".gitignore":         []byte(ignored),
		".gitattributes":     []byte(attributes),
		schemaFile("series"): schemas()["series"],
		schemaFile("design"): schemas()["design"],
		filepath.Join(catalogue.DesignsDir, ".gitkeep"): nil,
	}
	if noGit {
		files[catalogue.SeriesFile] = bytes.Replace(files[catalogue.SeriesFile], []byte("\ncalendar:"), []byte("\nhistory: folder                        # what went out is copied to history/; git: it is tagged\ncalendar:"), 1)
	}
	if err := a.layOut(dir, files); err != nil {
		return err
	}
	if err := a.firstCommit(dir, noGit); err != nil {
		return err
	}
	a.ui.say("wrote a series to %s\nnext: put your printer and filaments into %s, then `dropwright new NAME` there", a.shown(dir), a.shown(filepath.Join(dir, catalogue.SeriesFile)))
	return nil
}

// firstCommit makes a new series a git repository, unless it lies in one.
func (a *app) firstCommit(dir string, noGit bool) error {
	if noGit {
		return nil
	}
	if _, err := history.OpenGit(dir); !errors.Is(err, history.ErrNoRepository) {
		a.ui.say("%s lies in a git repository already: commit it there", a.shown(dir))
		return nil
	}
	if err := a.startHistory(dir, "start the series", nil); err != nil {
		return err
	}
	a.ui.say("made %s a git repository; its first commit holds these files", a.shown(dir))
	return nil
}

// titleOf turns wall-hook into Wall Hook.
func titleOf(name string) string {
	words := strings.Split(name, "-")
	for i, w := range words {
		if w != "" {
			words[i] = strings.ToUpper(w[:1]) + w[1:]
		}
	}
	return strings.Join(words, " ")
}

// emptyFolder makes a folder, or sees that it is empty.
func (a *app) emptyFolder(dir, arg string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case err == nil && len(entries) > 0:
		return refused("name a new folder, or empty this one", "%s is not empty", arg)
	case err == nil:
		return nil
	case os.IsNotExist(err):
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return machine("choose a place you may write to", "making %s: %w", arg, err)
		}
		return nil
	}
	if st, serr := os.Stat(dir); serr == nil && !st.IsDir() {
		return refused("name a folder", "%s is a file", arg)
	}
	return machine("choose a place you may write to", "%w", err)
}

const seriesTemplate = `# yaml-language-server: $schema=./series.schema.json
# The series: calendar, printers, filaments, channels. Everything a design does not say itself is taken from here.
series: %s
title: %s
maker: {name: %s}            # and url: "https://…" when you have a page
licence: CC-BY-SA-4.0                   # SPDX id; a design may set its own
currency: EUR
calendar:
  first: %s                     # early drop of week 1
  weeks: 12
  at: "17:00"                           # the same wall-clock time every week
  zone: %s                             # such as Europe/Lisbon
  public_after: 3 weeks                 # from the early day to the public one
  designs: {}                           # week: design, such as {1: wall-hook}
printers:
  - {name: bench, bed: [220, 220, 250], nozzle: 0.4, hours_per_week: 60}
filaments:                              # the colours you offer; designs choose among them
  - {name: black, material: PLA, colour: "#1c1c1c", price_per_kg: 20.00}
  - {name: white, material: PETG, colour: "#f2f2ee", price_per_kg: 22.00}
print: {layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %%}
channels:                               # where each audience gets its files
  - {name: supporters, audience: early, to: "hand:outbox/supporters"}   # hand: laid out for posting by hand
  - {name: shelf, audience: public, to: "file:outbox/shelf"}            # file: a folder
`
