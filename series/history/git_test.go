package history

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

var now = time.Date(2027, 1, 22, 17, 0, 0, 0, time.UTC)

// repo is a repository with a series in season/, made by the git program.
type repo struct {
	t      testing.TB
	top    string
	series string
	clock  int64
}

func newRepo(t testing.TB) *repo {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("no git")
		}
		t.Skip("SKIPPED: no git program on this machine, the history was not compared with it")
	}
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", home)
	t.Setenv("GIT_CONFIG_NOSYSTEM", "1")
	top := t.TempDir()
	r := &repo{t: t, top: top, series: filepath.Join(top, "season"), clock: 1767225600}
	r.git("init", "-q", "-b", "main")
	r.git("config", "user.name", "Maker")
	r.git("config", "user.email", "maker@example.com")
	r.git("config", "commit.gpgsign", "false")
	os.MkdirAll(filepath.Join(r.series, "designs", "vent-minder", "meshes"), 0o777)
	return r
}

func (r *repo) git(args ...string) string {
	r.t.Helper()
	out, err := r.try(args...)
	if err != nil {
		r.t.Fatalf("git %v: %v\n%s", args, err, out)
	}
	return out
}

func (r *repo) try(args ...string) (string, error) {
	c := exec.Command("git", args...)
	c.Dir = r.top
	stamp := strconv.FormatInt(r.clock, 10) + " +0100"
	c.Env = append(os.Environ(), "GIT_COMMITTER_DATE="+stamp, "GIT_AUTHOR_DATE="+stamp, "LC_ALL=C")
	out, err := c.CombinedOutput()
	return string(out), err
}

func (r *repo) write(name, text string) {
	r.t.Helper()
	full := filepath.Join(r.series, filepath.FromSlash(name))
	if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o777), os.WriteFile(full, []byte(text), 0o666)); err != nil {
		r.t.Fatal(err)
	}
}

func (r *repo) commit(message string) {
	r.t.Helper()
	r.clock += 3600
	r.git("add", "-A")
	r.git("commit", "-q", "-m", message)
}

func (r *repo) open() *Git {
	r.t.Helper()
	g, err := OpenGit(r.series)
	if err != nil {
		r.t.Fatal(err)
	}
	return g
}

// fsck is clean, by the git program's own judgement.
func (r *repo) fsck() {
	r.t.Helper()
	if out := r.git("fsck", "--strict", "--no-dangling", "--no-progress"); strings.TrimSpace(out) != "" {
		r.t.Errorf("git fsck --strict: %s", out)
	}
}

const (
	manifestFile = "designs/vent-minder/design.yaml"
	meshFile     = "designs/vent-minder/meshes/arm.stl"
)

func season(t testing.TB) *repo {
	r := newRepo(t)
	r.write("series.yaml", "series: s\n")
	r.write(manifestFile, "title: Vent Minder\n")
	r.write(meshFile, "solid\x00one")
	r.write("../README", "outside the series")
	r.commit("first")
	return r
}

func TestTagIsReadByGit(t *testing.T) {
	r := season(t)
	g := r.open()
	request := Request{Design: "vent-minder", Revision: "1.0.0", Digest: strings.Repeat("ab", 32), Now: now}
	f, err := g.Freeze(request)
	if err != nil {
		t.Fatal(err)
	}
	if f.Source != "vent-minder/v1.0.0" || f.Signed || f.Commit != strings.TrimSpace(r.git("rev-parse", "HEAD")) {
		t.Errorf("%+v", f)
	}
	if out := r.git("cat-file", "-p", "vent-minder/v1.0.0"); !strings.Contains(out, "digest: "+request.Digest) || !strings.Contains(out, "tagger Maker <maker@example.com> 1800637200 +0000") {
		t.Errorf("git reads the tag as\n%s", out)
	}
	r.fsck()

	// Again, an hour later, after another commit: the tag stays where it is.
	r.write(meshFile, "solid\x00two")
	r.commit("second")
	request.Now = now.Add(time.Hour)
	again, err := g.Freeze(request)
	if err != nil || again != f {
		t.Errorf("the same revision again: %+v, %v", again, err)
	}
	request.Digest = strings.Repeat("cd", 32)
	var taken *Taken
	if _, err := g.Freeze(request); !errors.As(err, &taken) {
		t.Errorf("another digest under the same revision: %v", err)
	}
	r.git("tag", "vent-minder/v0.9.0")
	request.Revision = "0.9.0"
	if _, err := g.Freeze(request); !errors.As(err, &taken) {
		t.Errorf("a tag made by hand: %v", err)
	}
	for _, revision := range []string{"1.10.0", "1.9.0"} {
		if _, err := g.Freeze(Request{Design: "vent-minder", Revision: revision, Digest: "d", Now: now}); err != nil {
			t.Fatal(err)
		}
	}
	r.git("tag", "vent-minder/vNext")
	r.git("tag", "vent-minder-2/v1.0.0")
	r.git("gc", "-q") // tags and objects in packs are found as well
	for range 2 {
		got, err := r.open().Revisions("vent-minder")
		if want := []string{"0.9.0", "1.0.0", "1.9.0", "1.10.0"}; err != nil || !slices.Equal(got, want) {
			t.Errorf("revisions %v, %v", got, err)
		}
	}
	old, err := r.open().At("vent-minder", "1.0.0")
	if err != nil {
		t.Fatal(err)
	}
	if data, err := fs.ReadFile(old, meshFile); err != nil || string(data) != "solid\x00one" {
		t.Errorf("the mesh of 1.0.0 is %q, %v", data, err)
	}
	if _, err := r.open().At("vent-minder", "7.0.0"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a revision that does not exist: %v", err)
	}
	for _, bad := range [][2]string{{"../x", "1.0.0"}, {"x", "1.0"}, {"x", "01.0.0"}, {"X", "1.0.0"}, {"x", "1.0.0/../../heads/main"}} {
		if _, err := g.At(bad[0], bad[1]); err == nil || errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestTreeIsAFileSystem(t *testing.T) {
	r := season(t)
	os.Symlink("/etc/passwd", filepath.Join(r.series, "link"))
	r.write("pointer.stl", "version https://git-lfs.example/spec/v1\noid sha256:00\nsize 1\n")
	r.commit("links")
	g := r.open()
	if _, err := g.Freeze(Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d", Now: now}); err != nil {
		t.Fatal(err)
	}
	old, err := g.At("vent-minder", "1.0.0")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fs.ReadFile(old, "link"); err == nil {
		t.Error("a symbolic link is followed")
	}
	if _, err := fs.ReadFile(old, "pointer.stl"); err == nil || !strings.Contains(err.Error(), "pointer") {
		t.Errorf("a pointer to a large file is read as the file: %v", err)
	}
	sub, err := fs.Sub(old, "designs")
	if err != nil {
		t.Fatal(err)
	}
	if err := fstest.TestFS(sub, "vent-minder/design.yaml", "vent-minder/meshes/arm.stl"); err != nil {
		t.Error(err)
	}
	if _, err := fs.ReadFile(old, "../README"); err == nil {
		t.Error("a path leads out of the series")
	}
}

func TestSignedTag(t *testing.T) {
	r := season(t)
	// The seed is a fixed test value; the key protects nothing.
	key := ed25519.NewKeyFromSeed([]byte("dropwright test seed 32 bytes ok"))
	signer, err := ssh.NewSignerFromKey(key)
	if err != nil {
		t.Fatal(err)
	}
	sign := func(text []byte) ([]byte, error) {
		s, err := sshsig.Sign(strings.NewReader(string(text)), signer, sshsig.HashSHA512, "git")
		if err != nil {
			return nil, err
		}
		return sshsig.Armor(s), nil
	}
	g := r.open()
	f, err := g.Freeze(Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d", Now: now, Sign: sign})
	if err != nil || !f.Signed {
		t.Fatal(f, err)
	}
	if again, err := g.Freeze(Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d", Now: now, Sign: sign}); err != nil || again != f {
		t.Errorf("the signed revision again: %+v, %v", again, err)
	}
	r.fsck()
	allowed := filepath.Join(t.TempDir(), "allowed")
	verify := func() (string, error) {
		return r.try("-c", "gpg.ssh.allowedSignersFile="+allowed, "-c", "gpg.format=ssh", "verify-tag", "vent-minder/v1.0.0")
	}
	os.WriteFile(allowed, []byte("maker@example.com "+string(ssh.MarshalAuthorizedKey(signer.PublicKey()))), 0o600)
	if out, err := verify(); err != nil {
		t.Errorf("git verify-tag: %v\n%s", err, out)
	}
	other, _ := ssh.NewSignerFromKey(ed25519.NewKeyFromSeed([]byte("another test seed of 32 bytes ok")))
	os.WriteFile(allowed, []byte("maker@example.com "+string(ssh.MarshalAuthorizedKey(other.PublicKey()))), 0o600)
	if out, err := verify(); err == nil {
		t.Errorf("git verify-tag accepts another's key\n%s", out)
	}
	if _, err := g.Freeze(Request{Design: "vent-minder", Revision: "2.0.0", Digest: "d", Now: now, Sign: func([]byte) ([]byte, error) { return []byte("no signature"), nil }}); err == nil {
		t.Error("a signer that gives no signature is believed")
	}
}

// TestChangedAgainstGit compares with `git log -1` over a history with merges, renames and reverts.
func TestChangedAgainstGit(t *testing.T) {
	r := season(t)
	r.write(manifestFile, "title: two\n")
	r.commit("two")
	r.git("checkout", "-q", "-b", "side")
	r.write(meshFile, "solid\x00side")
	r.write("designs/twine-hook/design.yaml", "title: Hook\n")
	r.commit("on the side")
	r.git("checkout", "-q", "main")
	r.write("series.yaml", "series: changed\n")
	r.commit("on main")
	r.clock += 3600
	r.git("merge", "-q", "--no-ff", "-m", "merge", "side")
	r.write("series.yaml", "series: s\n")
	r.commit("back again")
	r.git("mv", "season/designs/vent-minder/meshes/arm.stl", "season/designs/vent-minder/meshes/lever.stl")
	r.commit("renamed")
	files := []string{"series.yaml", manifestFile, "designs/vent-minder/meshes/lever.stl", "designs/twine-hook/design.yaml", meshFile, "nothing"}
	got, err := r.open().Changed(files)
	if err != nil {
		t.Fatal(err)
	}
	known := 0
	for _, f := range files {
		want := ""
		if out := strings.TrimSpace(r.git("ls-files", "season/"+f)); out != "" {
			want = strings.TrimSpace(r.git("log", "-1", "--format=%ct", "--", "season/"+f))
			known++
		}
		when, ok := got[f]
		if ok != (want != "") || ok && strconv.FormatInt(when.Unix(), 10) != want {
			t.Errorf("%s: %v, git says %q", f, when, want)
		}
	}
	if known != 4 {
		t.Errorf("%d files compared", known)
	}
}

func TestUncleanAgainstGit(t *testing.T) {
	r := season(t)
	r.write("staged.txt", "staged")
	r.git("add", "season/staged.txt")
	r.write("new.txt", "new")
	r.write(meshFile, "solid\x00two")
	os.Remove(filepath.Join(r.series, "series.yaml"))
	os.Symlink("design.yaml", filepath.Join(r.series, "designs/vent-minder/link.yaml"))
	files := []string{"series.yaml", manifestFile, meshFile, "staged.txt", "new.txt", "../README", "designs/vent-minder/link.yaml", "designs"}
	got, err := r.open().Unclean(files)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, u := range got {
		lines = append(lines, u.Path+": "+u.Why)
	}
	want := []string{
		"../README: it is no path inside the series",
		"designs: it is no file",
		"designs/vent-minder/link.yaml: it is a symbolic link, put the file itself there",
		meshFile + ": it was changed since it was committed",
		"new.txt: it is not committed",
		"series.yaml: it is missing",
		"staged.txt: it is not committed",
	}
	if !slices.Equal(lines, want) {
		t.Errorf("got %q", lines)
	}
	for _, line := range strings.Split(strings.TrimRight(r.git("status", "--porcelain", "-uall"), "\n"), "\n") {
		name := strings.TrimPrefix(line[3:], "season/")
		if !slices.ContainsFunc(got, func(u Unclean) bool { return u.Path == name }) {
			t.Errorf("git finds %q unclean, we do not", line)
		}
	}
}

func TestLineEndsAndPointers(t *testing.T) {
	r := season(t)
	r.git("config", "core.autocrlf", "true")
	r.write(manifestFile, "title: Vent Minder\r\n") // as git would check it out
	r.write("pointer.stl", "version https://git-lfs.example/spec/v1\noid sha256:ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\nsize 3\n")
	r.commit("pointer")
	r.write("pointer.stl", "abc") // as the large-file extension would check it out; the hash is FIPS 180-4's
	g := r.open()
	if got, err := g.Unclean([]string{manifestFile, "pointer.stl"}); err != nil || len(got) > 0 {
		t.Errorf("%v, %v", got, err)
	}
	r.write("pointer.stl", "abd")
	if got, _ := g.Unclean([]string{"pointer.stl"}); len(got) != 1 {
		t.Error("other content behind a pointer is taken for the same")
	}
	r.write("notes.txt", "one\r\ntwo\r\n")
	if _, err := g.Commit([]string{"notes.txt"}, "notes", now); err != nil {
		t.Fatal(err)
	}
	if got := r.git("cat-file", "-p", "HEAD:season/notes.txt"); got != "one\ntwo\n" {
		t.Errorf("with core.autocrlf, git keeps %q", got)
	}
}

func TestCommitTakesOnlyTheListedFiles(t *testing.T) {
	r := season(t)
	r.write("staged.txt", "staged")
	r.git("add", "season/staged.txt")
	r.write("loose.txt", "loose")
	r.write(meshFile, "solid\x00two")
	r.write("designs/vent-minder/photos/front.jpg", "photo")
	g := r.open()
	before := strings.TrimSpace(r.git("rev-parse", "HEAD"))
	files := []string{meshFile, "designs/vent-minder/photos/front.jpg", manifestFile}
	hash, err := g.Commit(files, "vent-minder: files of revision 1.0.0", now)
	if err != nil {
		t.Fatal(err)
	}
	r.fsck()
	if parent := strings.TrimSpace(r.git("rev-parse", "HEAD^")); parent != before || hash != strings.TrimSpace(r.git("rev-parse", "HEAD")) {
		t.Errorf("HEAD is %s after %s", hash, parent)
	}
	want := "season/designs/vent-minder/meshes/arm.stl\nseason/designs/vent-minder/photos/front.jpg\n"
	if got := r.git("show", "--name-only", "--format=", "HEAD"); got != want {
		t.Errorf("the commit holds %q", got)
	}
	if got := r.git("status", "--porcelain"); got != "A  season/staged.txt\n?? season/loose.txt\n" {
		t.Errorf("git status: %q", got)
	}
	if again, err := g.Commit(files, "again", now); err != nil || again != hash {
		t.Errorf("nothing to commit: %s, %v", again, err)
	}
	if got, err := g.Unclean(files); err != nil || len(got) > 0 {
		t.Errorf("after the commit: %v, %v", got, err)
	}
	if _, err := g.Commit([]string{"nothing"}, "x", now); err == nil {
		t.Error("a missing file is committed")
	}
	// Detached HEAD: a commit moves HEAD alone.
	r.git("checkout", "-q", "--detach")
	r.write("detached.txt", "d")
	if _, err := r.open().Commit([]string{"detached.txt"}, "detached", now); err != nil {
		t.Fatal(err)
	}
	if main := strings.TrimSpace(r.git("rev-parse", "main")); main != hash {
		t.Errorf("a commit on a detached HEAD moved main to %s", main)
	}
	r.fsck()
}

func TestFirstCommitAndNoRepository(t *testing.T) {
	r := newRepo(t)
	r.write("series.yaml", "series: s\n")
	g := r.open()
	if got, err := g.Unclean([]string{"series.yaml"}); err != nil || len(got) != 1 {
		t.Errorf("%v, %v", got, err)
	}
	if _, err := g.Freeze(Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d", Now: now}); err == nil || !strings.Contains(err.Error(), "commit") {
		t.Errorf("a tag in an empty repository: %v", err)
	}
	if _, err := g.Commit([]string{"series.yaml"}, "first", now); err != nil {
		t.Fatal(err)
	}
	if got := r.git("log", "--format=%s %an %ct"); got != "first Maker 1800637200\n" {
		t.Errorf("git log: %q", got)
	}
	r.fsck()
	r.git("config", "--unset", "user.name")
	r.write("series.yaml", "series: t\n")
	if _, err := r.open().Commit([]string{"series.yaml"}, "second", now); !errors.Is(err, ErrNoName) {
		t.Errorf("without a name: %v", err)
	}
	if _, err := OpenGit(t.TempDir()); !errors.Is(err, ErrNoRepository) {
		t.Errorf("outside a repository: %v", err)
	}
}

func TestLinkedWorkTree(t *testing.T) {
	r := season(t)
	other := filepath.Join(t.TempDir(), "other")
	r.git("worktree", "add", "-q", "-b", "wip", other)
	g, err := OpenGit(filepath.Join(other, "season"))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := g.Unclean([]string{"series.yaml", manifestFile}); err != nil || len(got) > 0 {
		t.Errorf("%v, %v", got, err)
	}
	if _, err := g.Freeze(Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d", Now: now}); err != nil {
		t.Fatal(err)
	}
	if out := r.git("tag", "-l"); out != "vent-minder/v1.0.0\n" {
		t.Errorf("git tag: %q", out)
	}
	r.fsck()
}

func BenchmarkChanged(b *testing.B) {
	r := season(b)
	var files []string
	for i := range 40 {
		name := fmt.Sprintf("designs/d%d/design.yaml", i)
		files = append(files, name)
		r.write(name, "x")
	}
	r.commit("all")
	for i := range 60 {
		r.write("series.yaml", fmt.Sprint(i))
		r.commit("more")
	}
	g := r.open()
	for b.Loop() {
		if _, err := g.Changed(files); err != nil {
			b.Fatal(err)
		}
	}
}
