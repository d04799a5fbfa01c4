package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/go-git/go-git/v5"

	"dropwright/series/catalogue"
)

// demoDrop is the design that the demo releases: one part, quickly packed.
const demoDrop = "soil-stake"

// demoChannels replace the channels of the demo season by rehearsal folders, so that its drops can be tried
// with a moved clock and reach nobody.
const demoChannels = `# The season's own channels are an outbox to post from by hand and a store in the network:
#   - {name: supporters, audience: early, to: "hand:../outbox/supporters"}
#   - {name: open-shelf, audience: public, to: "s3://drops?region=eu-west-1"}
# Here both are folders to rehearse with: rehearsal: true lets --now move the clock, and keeps
# a ledger of its own (ledger.rehearsal.jsonl). Take it away when you mean it.
channels:
  - {name: supporters, audience: early, to: "file:outbox/supporters", rehearsal: true}
  - {name: open-shelf, audience: public, to: "file:outbox/open-shelf", rehearsal: true}
`

// rehearsalSeason gives the season's text with rehearsal channels.
func rehearsalSeason(text []byte) ([]byte, error) {
	before, _, ok := bytes.Cut(text, []byte("\nchannels:"))
	if !ok {
		return nil, fmt.Errorf("%s of the demo has no channels", catalogue.SeriesFile)
	}
	return append(append(before[:len(before):len(before)], '\n'), demoChannels...), nil
}

// demoMaker lets the demo's repository commit without the user's own git settings.
func (a *app) demoMaker(dir string) error {
	repo, err := git.PlainOpen(dir)
	if err != nil {
		return machine("", "opening the demo's repository: %w", err)
	}
	c, err := repo.Config()
	if err == nil {
		c.User.Name, c.User.Email = "Hollow Lane Workshop", "demo@hollow-lane.example"
		err = repo.SetConfig(c)
	}
	if err != nil {
		return machine("", "naming the demo's maker: %w", err)
	}
	return nil
}

// demoDrops plays a design's early drop, a correction, and its public drop, each on its day.
func (a *app) demoDrops(in app, dir string) error {
	if err := a.demoMaker(dir); err != nil {
		return err
	}
	// drop releases on a day, with the command that a reader would type.
	drop := func(n int, now, audience string, o releaseOptions) error {
		t, err := time.Parse(time.RFC3339, now)
		if err != nil {
			return err
		}
		day := in
		day.nowFlag, day.now, day.format = now, func() time.Time { return t }, "text"
		commit := ""
		if o.commit {
			commit = " --commit"
		}
		in.ui.say("\n%d. dropwright release %s %s%s --now %s", n, demoDrop, audience, commit, now)
		return day.release([]string{demoDrop, audience}, o)
	}
	if err := drop(7, "2027-01-08T17:00:00Z", "early", releaseOptions{}); err != nil {
		return err
	}
	story := filepath.Join(dir, catalogue.DesignsDir, demoDrop, "story.md")
	text, err := os.ReadFile(story)
	if err == nil {
		err = a.replaceFile(story, append(bytes.TrimRight(text, "\n"), "\n\nIn stony soil, turn the stake while you push.\n"...))
	}
	if err != nil {
		return machine("", "correcting the story: %w", err)
	}
	const what = "the story says how to push it into stony soil"
	corrected, _ := time.Parse(time.RFC3339, "2027-01-12T10:00:00Z")
	in.ui.say("\n8. a correction: dropwright revise %s patch %q", demoDrop, what)
	later := in
	later.now = func() time.Time { return corrected }
	if err := later.revise(demoDrop, "patch", what, nil, false); err != nil {
		return err
	}
	if err := drop(9, "2027-01-12T10:00:00Z", "early", releaseOptions{commit: true}); err != nil {
		return err
	}
	if err := drop(10, "2027-01-29T17:00:00Z", "public", releaseOptions{commit: true}); err != nil {
		return err
	}
	in.ui.say("\n11. dropwright ledger")
	in.format = "text"
	if err := in.ledger([]string{demoDrop}, true); err != nil {
		return err
	}
	fmt.Fprintln(a.stdout, strings.TrimSpace("\nsupporters had the correction at once, the public got nothing before its day, and then the corrected revision"))
	return nil
}
