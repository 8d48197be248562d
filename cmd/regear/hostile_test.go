package main

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regear/analyze/logbook/wholefile"
	"runtime"
	"strings"
	"testing"
	"time"
)

// Ctrl-C ends a server that a half-sent request holds on to, and that is no failure.
func TestEndsThoughABrowserHoldsOn(t *testing.T) {
	t.Parallel()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	asked := make(chan bool)
	server := &http.Server{Handler: http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		asked <- true
		io.Copy(io.Discard, r.Body)
	})}
	ended := make(chan error, 1)
	go func() { ended <- serveUntil(ctx, server, listener) }()
	stuck, err := net.Dial("tcp", listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer stuck.Close()
	io.WriteString(stuck, "POST /log HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\ncar=")
	<-asked
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("it ends with %v", err)
		}
	case <-time.After(4 * patienceEnding):
		t.Error("it does not end")
	}
}

// What is no file is not replaced by one: a device would be gone for all who use it.
func TestOnlyFilesAreReplaced(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right there that few users have")
	}
	folder := t.TempDir()
	nowhere, device := filepath.Join(folder, "nowhere.html"), filepath.Join(folder, "device.html")
	if err := errors.Join(os.Symlink(filepath.Join(folder, "gone.html"), nowhere), os.Symlink(os.DevNull, device)); err != nil {
		t.Fatal(err)
	}
	paths := map[string]string{nowhere: "leads nowhere", device: "no file that could be replaced"}
	for path, says := range paths {
		f, err := wholefile.Open(path, path)
		if err == nil {
			f.Discard()
			t.Errorf("%s would be replaced", path)
		} else if !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", path, err)
		}
		if info, err := os.Lstat(path); err != nil || info.Mode()&os.ModeSymlink == 0 {
			t.Errorf("%s is no link any more", path)
		}
	}
	entries, err := os.ReadDir(folder)
	if err != nil || len(entries) != len(paths) {
		t.Errorf("left beside it: %v, %v", entries, err)
	}
}

// A question about every gear there is would take minutes and gigabytes.
func TestEveryGearThereIsIsTooMany(t *testing.T) {
	t.Chdir("../..")
	got := regear(t, "", "advise", "--log", weekend, "--pinions", "1-400", "--spurs", "1-400")
	if got.exit != 1 || !strings.Contains(got.stderr, "160000 pairs, and 1000 are the most") {
		t.Errorf("exit %d: %s", got.exit, got.stderr)
	}
	if got := regear(t, "", "advise", "--log", weekend, "--pinions", "1-400"); got.exit != 0 {
		t.Errorf("every pinion on one spur: exit %d: %s", got.exit, got.stderr)
	}
}
