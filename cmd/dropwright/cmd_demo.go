package main

import (
	"context"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/go-git/go-git/v5/plumbing/object"
	"github.com/spf13/cobra"

	"dropwright/examples"
	"dropwright/series/catalogue"
)

// demoDesign is the design that the demo prints the bill of materials of: it has most of what a design can
// have.
const demoDesign = "vent-minder"

func (a *app) demoCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "make a demo season and run the week's work on it",
		Long: `Lays a whole demo season out in a new folder (a git repository): twelve weekly instruments for
garden and greenhouse, six of them finished. Then it does the week's work on them: check, bill of
materials, sheets, bundles; logs a test print and looks over the season; and rehearses one design's drops
with a moved clock: early, a correction, public. Afterwards the folder is yours to try every command on.`,
		Example: "  dropwright demo season\n  cd season && dropwright",
		Args:    cobra.ExactArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.demo(args[0]) },
	}
}

func (a *app) demo(arg string) error {
	dir := a.abs(arg)
	if err := a.emptyFolder(dir, arg); err != nil {
		return err
	}
	err := a.runDemo(dir, arg)
	if err != nil && a.ctx.Err() != nil {
		return &statusError{exitInterrupted, context.Canceled, "remove " + arg + " and start again: dropwright demo " + arg}
	}
	return err
}

func (a *app) runDemo(dir, arg string) error {
	files, err := demoFiles()
	if err != nil {
		return machine("", "reading the built-in season: %w", err)
	}
	a.ui.say("1. laying the season out in %s", arg)
	if err := a.layOut(dir, files); err != nil {
		return err
	}
	if err := a.startHistory(dir, "start the season", &object.Signature{Name: "dropwright demo", Email: "demo@hollow-lane.example", When: a.now()}); err != nil {
		return err
	}
	in := *a
	in.series, in.format, in.output, in.variant = dir, "text", "", ""
	in.ui = newUI(a.env, a.quiet, a.color)
	in.ui.say("\n2. dropwright check")
	if err := in.check(nil, checkOptions{}); err != nil {
		return err
	}
	in.ui.say("\n3. dropwright bom %s --variant ce", demoDesign)
	in.variant = "ce"
	if err := in.bom([]string{demoDesign}, 1); err != nil {
		return err
	}
	in.variant = ""
	in.ui.say("\n4. dropwright sheet and dropwright bundle, for every design")
	s, err := in.sound()
	if err != nil {
		return err
	}
	defer s.close()
	sheets, bundles := filepath.Join(dir, "outbox", "sheets"), filepath.Join(dir, "outbox", "bundles")
	quiet := in
	quiet.ui = newUI(a.env, true, a.color)
	for _, name := range s.Names {
		quiet.format, quiet.output = "html", sheets
		if err := quiet.sheet([]string{name}, sheetOptions{"public", "a4", 1}); err != nil {
			return err
		}
		in.format, in.output = "text", bundles // the early ones are made by the drop that follows
		if err := in.bundle([]string{name}, "public"); err != nil {
			return err
		}
	}
	in.output = ""
	if err := a.demoBench(in, dir); err != nil {
		return err
	}
	if err := a.demoDrops(in, dir); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "\nThe season is in %s. Look at\n", arg)
	fmt.Fprintf(a.stdout, "  %s   in a browser\n", a.shown(filepath.Join(sheets, demoDesign+"-1.0.0-ce-public.html")))
	fmt.Fprintf(a.stdout, "  %s   what goes out\n", a.shown(bundles))
	fmt.Fprintf(a.stdout, "  %s   what the public sees\n", a.shown(filepath.Join(dir, "outbox", "open-shelf", "index.html")))
	fmt.Fprintf(a.stdout, "  %s   the manifest behind it\n", a.shown(filepath.Join(dir, catalogue.DesignsDir, demoDesign, catalogue.DesignFile)))
	fmt.Fprintf(a.stdout, "Then: cd %s && dropwright\n", arg)
	return nil
}

// demoFiles are the embedded season's files, with the schemas that its manifests point editors at.
func demoFiles() (map[string][]byte, error) {
	files := map[string][]byte{
		schemaFile("series"): schemas()["series"],
		schemaFile("design"): schemas()["design"],
		".gitignore":         []byte(ignored),
		".gitattributes":     []byte(attributes),
	}
	err := fs.WalkDir(examples.Season, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(examples.Season, p)
		if err == nil && p == catalogue.SeriesFile {
			data, err = rehearsalSeason(data)
		}
		files[filepath.FromSlash(p)] = data
		return err
	})
	return files, err
}
