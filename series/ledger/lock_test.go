package ledger

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"dropwright/series/disk"
)

// TestMain lets the test binary play other processes: DROPWRIGHT_LEDGER_CHILD says what to do.
func TestMain(m *testing.M) {
	switch os.Getenv("DROPWRIGHT_LEDGER_CHILD") {
	case "":
		os.Exit(m.Run())
	case "append":
		os.Exit(childAppend(os.Args[1]))
	case "hold":
		os.Exit(childHold(os.Args[1]))
	case "fill":
		os.Exit(childFill(os.Args[1]))
	}
	os.Exit(9)
}

// childAppend is a release in small: 0 done, 4 busy.
func childAppend(path string) int {
	l, err := Open(disk.OS(), path, Options{Series: "s", Now: t0})
	if errors.Is(err, ErrBusy) {
		return 4
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 3
	}
	defer l.Close()
	time.Sleep(30 * time.Millisecond) // long enough that others meet the lock
	if _, err := l.Append(Record{Kind: Withdraw, At: t0, Design: "d", Revision: "1.0.0", Because: fmt.Sprint(os.Getpid())}); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 3
	}
	return 0
}

func childHold(path string) int {
	if _, err := Open(disk.OS(), path, Options{Series: "s", Now: t0}); err != nil {
		return 3
	}
	fmt.Println("held")
	time.Sleep(time.Minute)
	return 0
}

// childFill writes until the disk is full and prints how many records were acknowledged.
func childFill(path string) int {
	l, err := Open(disk.OS(), path, Options{Series: "s", Now: t0})
	if err != nil {
		return 3
	}
	for {
		_, err := l.Append(Record{Kind: Withdraw, At: t0, Design: "d", Revision: "1.0.0", Because: string(make([]byte, 9000))})
		if errors.Is(err, syscall.ENOSPC) {
			break
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 3
		}
	}
	again, err := Read(disk.OS(), path)
	if err != nil || len(again.Entries) < len(l.Entries) {
		fmt.Fprintln(os.Stderr, "after the full disk:", err)
		return 1
	}
	// Somebody makes room: the next run goes on.
	if err := os.Remove(filepath.Join(filepath.Dir(path), "ballast")); err != nil {
		return 3
	}
	l.Close()
	l, err = Open(disk.OS(), path, Options{Series: "s", Now: t0})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	if _, err := l.Append(Record{Kind: Withdraw, At: t0, Design: "d", Revision: "1.0.0", Because: "room"}); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	fmt.Println(len(l.Entries))
	return 0
}

func child(role, path string) *exec.Cmd {
	exe, _ := os.Executable()
	c := exec.Command(exe, path)
	c.Env = append(os.Environ(), "DROPWRIGHT_LEDGER_CHILD="+role)
	return c
}

// TestTwentyProcesses is release test 9 for the ledger: whoever does not get the lock says busy, and the
// chain holds one record of each winner.
func TestTwentyProcesses(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.jsonl")
	var all []*exec.Cmd
	for range 20 {
		c := child("append", path)
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
	}
	won, busy := 0, 0
	for _, c := range all {
		c.Wait()
		switch c.ProcessState.ExitCode() {
		case 0:
			won++
		case 4:
			busy++
		default:
			t.Errorf("a process ended with %d", c.ProcessState.ExitCode())
		}
	}
	l, err := Read(disk.OS(), path)
	if err != nil || won == 0 || len(l.Entries) != won+1 {
		t.Errorf("%d won, %d busy, %v", won, busy, err)
	}
	t.Logf("%d processes won the lock one after the other, %d found it taken", won, busy)
}

func TestKilledHolderFreesTheLock(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.jsonl")
	c := child("hold", path)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "held\n" {
		t.Fatal(line, err)
	}
	if _, err := Open(disk.OS(), path, Options{Series: "s"}); !errors.Is(err, ErrBusy) {
		t.Errorf("the lock is held, and opening gives %v", err)
	}
	c.Process.Signal(syscall.SIGKILL)
	c.Wait()
	l, err := Open(disk.OS(), path, Options{Series: "s"})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestFullDisk is release test 4 for the ledger, on a real file system of 1 MiB.
func TestFullDisk(t *testing.T) {
	exe, _ := os.Executable()
	script := `mount -t tmpfs -o size=1m none "$1" && head -c 100000 /dev/zero > "$1/ballast" && DROPWRIGHT_LEDGER_CHILD=fill exec "$2" "$1/ledger.jsonl"`
	args := []string{"-m", "sh", "-c", script, "sh", t.TempDir(), exe}
	if os.Getuid() != 0 {
		args = append([]string{"-r"}, args...)
	}
	if err := exec.Command("unshare", append(args[:len(args)-5:len(args)-5], "-c", "mount -t tmpfs -o size=1m none /tmp")...).Run(); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("no tmpfs can be mounted here")
		}
		t.Skip("SKIPPED: no tmpfs can be mounted here, the full disk was not tried")
	}
	out, err := exec.Command("unshare", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	t.Logf("%s records were in the ledger at the end", out)
}
