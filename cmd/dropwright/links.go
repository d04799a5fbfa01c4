package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/schedule"
	"dropwright/series/target"
)

// linked is a channel whose files lie in a store.
type linked struct {
	name, audience string
	rehearsal      bool
	life           time.Duration // of its `links`, 0 if release does not keep them
}

// linkSheet is what readers of one channel are sent.
type linkSheet struct {
	channel     linked
	made, until time.Time
	borrowed    bool
	releases    []linkedRelease
}

type linkedRelease struct {
	design, revision string
	objects          []ledger.Object
	links            []target.Link
}

func (s linkSheet) count() (n int) {
	for _, r := range s.releases {
		n += len(r.links)
	}
	return n
}

// state tells what a sheet links to, without saying it.
func (s linkSheet) state() string {
	h := sha256.New()
	for _, r := range s.releases {
		for _, o := range r.objects {
			fmt.Fprintf(h, "%s %s %s %s\n", r.design, r.revision, o.Name, o.SHA256)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// linkedChannels are the channels of a series that lie in a store.
func linkedChannels(s *season) []linked {
	var out []linked
	for _, c := range s.Config.Channels {
		if addr, err := target.ParseAddress(string(c.To.V)); err == nil && addr.Scheme == "s3" {
			out = append(out, linked{string(c.Name.V), string(c.Audience.V), bool(c.Rehearsal.V), time.Duration(c.Links.V) * 24 * time.Hour})
		}
	}
	return out
}

// wentOut lists the newest revision of each design that is out at a channel and not withdrawn; names, if any,
// choose among the designs.
func wentOut(log *ledger.Log, channel string, names []string) []linkedRelease {
	newest := map[string]ledger.Entry{}
	for _, d := range log.Deliveries() {
		e := d.Intent
		if _, gone := log.Withdrawn(e.Design, e.Revision); gone || e.Channel != channel || d.Outcome != ledger.Done || len(names) > 0 && !slices.Contains(names, e.Design) {
			continue
		}
		if old, ok := newest[e.Design]; !ok || schedule.Newer(e.Revision, old.Revision) {
			newest[e.Design] = e
		}
	}
	var out []linkedRelease
	for _, e := range newest {
		out = append(out, linkedRelease{design: e.Design, revision: e.Revision, objects: e.Objects})
	}
	slices.SortFunc(out, func(a, b linkedRelease) int { return strings.Compare(a.design, b.design) })
	return out
}

// makeLinks signs a sheet for every channel that pick accepts. Nothing is asked of the stores.
func (a *app) makeLinks(s *season, names []string, pick func(linked) bool, life time.Duration) ([]linkSheet, error) {
	var out []linkSheet
	for _, c := range linkedChannels(s) {
		if !pick(c) {
			continue
		}
		log, err := a.readLedger(s, c.rehearsal)
		if err != nil {
			return nil, err
		}
		x := linkSheet{channel: c, releases: wentOut(log, c.name, names)}
		places, err := a.places(s, c.rehearsal, []string{c.name})
		if err != nil {
			return nil, err
		}
		if u, ok := places[0].Target.(unserved); ok {
			return nil, releaseError(u.why)
		}
		linker, ok := places[0].Target.(target.Linker)
		if !ok {
			continue
		}
		l := life
		if l == 0 {
			l = c.life
		}
		if l == 0 {
			l = target.MaxLink
		}
		x.made = a.now()
		x.until = x.made.Add(l)
		for i := range x.releases {
			r := &x.releases[i]
			for _, o := range r.objects {
				link, err := linker.Link(a.ctx, release.ObjectName(r.design, r.revision, o.Name), l)
				if err != nil {
					return nil, machine("", "%w", err)
				}
				r.links = append(r.links, link)
				x.until, x.borrowed = link.Until, x.borrowed || link.Borrowed
			}
		}
		out = append(out, x)
	}
	return out, nil
}

// sheetsText is a sheet for sending on. Its first lines are for keepLinks too.
func sheetsText(sheets []linkSheet) []byte {
	var b bytes.Buffer
	for i, x := range sheets {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "# %s: whoever holds a link can read its file until %s\n", x.channel.name, x.until.UTC().Format(time.RFC3339))
		for _, r := range x.releases {
			fmt.Fprintf(&b, "\n%s %s\n", r.design, r.revision)
			for j, l := range r.links {
				fmt.Fprintf(&b, "%s (%s)\n%s\n", r.objects[j].Name, bytesText(r.objects[j].Bytes), l.URL)
			}
		}
	}
	return b.Bytes()
}

func bytesText(n int64) string {
	if n < 1_000_000 {
		return fmt.Sprintf("%d kB", (n+999)/1000)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

func sheetsJSON(sheets []linkSheet) any {
	type link struct {
		Name  string `json:"name"`
		Bytes int64  `json:"bytes"`
		URL   string `json:"url"`
	}
	type rel struct {
		Design   string `json:"design"`
		Revision string `json:"revision"`
		Links    []link `json:"links"`
	}
	type sheet struct {
		Channel  string `json:"channel"`
		Audience string `json:"audience"`
		Until    string `json:"until"`
		Releases []rel  `json:"releases"`
	}
	out := []sheet{}
	for _, x := range sheets {
		j := sheet{x.channel.name, x.channel.audience, x.until.UTC().Format(time.RFC3339), []rel{}}
		for _, r := range x.releases {
			k := rel{r.design, r.revision, []link{}}
			for i, l := range r.links {
				k.Links = append(k.Links, link{r.objects[i].Name, r.objects[i].Bytes, l.URL})
			}
			j.Releases = append(j.Releases, k)
		}
		out = append(out, j)
	}
	return map[string]any{"channels": out}
}

// linksDir lies in the store, which git ignores.
const linksDir = "links"

// keepLinks makes the files of links anew that release keeps, where something went out since or half of their life
// is over. Nothing of the links is said.
func (a *app) keepLinks(s *season) error {
	if a.nowFlag != "" {
		return nil // a rehearsal's clock; stores go by the true one
	}
	for _, c := range linkedChannels(s) {
		if c.life == 0 || c.audience == calendar.Public {
			continue
		}
		log, err := a.readLedger(s, c.rehearsal)
		if err != nil {
			return err
		}
		due := linkSheet{channel: c, releases: wentOut(log, c.name, nil)}
		folder := filepath.Join(s.dir, release.StoreName, linksDir)
		text, state := filepath.Join(folder, c.name+".txt"), filepath.Join(folder, "."+c.name)
		if len(due.releases) == 0 { // nothing is out, or it was withdrawn: what is kept would mislead
			os.Remove(text)
			os.Remove(state)
			continue
		}
		if a.young(text, state, due) {
			continue
		}
		sheets, err := a.makeLinks(s, nil, func(x linked) bool { return x.name == c.name }, c.life)
		if err != nil {
			return err
		}
		if err := a.writeLinks(s, folder, text, state, sheets[0]); err != nil {
			return machine("check the disk and the permissions of the folder store", "keeping the links of %s: %w", c.name, err)
		}
		a.ui.say("links for %s in %s, good until %s", c.name, a.shown(text), sheets[0].until.UTC().Format("2006-01-02 15:04 UTC"))
	}
	return nil
}

// young says whether the kept links are those that are due, with at least half of their life before them.
func (a *app) young(text, state string, due linkSheet) bool {
	if _, err := os.Stat(text); err != nil {
		return false
	}
	data, err := os.ReadFile(state)
	if err != nil || len(data) > 1000 {
		return false
	}
	sum, until, _ := strings.Cut(strings.TrimSpace(string(data)), " ")
	dies, err := time.Parse(time.RFC3339, until)
	left := dies.Sub(a.now())
	return err == nil && sum == due.state() && left >= due.channel.life/2 && left <= due.channel.life
}

func (a *app) writeLinks(s *season, folder, text, state string, x linkSheet) error {
	if err := release.OpenStore(disk.OS(), filepath.Join(s.dir, release.StoreName)).Ready(); err != nil { // hides it from git
		return err
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	if err := a.outsideGit(s, text); err != nil {
		return err
	}
	if err := writePrivate(text, sheetsText([]linkSheet{x})); err != nil {
		return err
	}
	return writePrivate(state, []byte(x.state()+" "+x.until.UTC().Format(time.RFC3339)+"\n"))
}

// writePrivate writes a file that only its owner can read, whole or not at all. An older file's permissions do not
// pass on.
func writePrivate(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".links-*") // mode 0600
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Chmod(0o600), f.Sync())
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// outsideGit refuses to put links where git would find them: a commit is for ever, and often public.
func (a *app) outsideGit(s *season, path string) error {
	if rel, err := filepath.Rel(filepath.Join(s.dir, release.StoreName), path); err == nil && filepath.IsLocal(rel) {
		if _, err := os.Stat(filepath.Join(s.dir, release.StoreName, ".gitignore")); err == nil {
			return nil
		}
	}
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		_, err := os.Stat(filepath.Join(dir, ".git"))
		if err == nil || dir == s.dir {
			return refused("name a file elsewhere, such as --output ~/links.txt", "%s lies in the series or in a git repository: links do not belong there", a.shown(path))
		} else if !errors.Is(err, fs.ErrNotExist) {
			return machine("check the folder and its permissions", "%w", err)
		}
		if filepath.Dir(dir) == dir {
			return nil
		}
	}
}
