package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/klauspost/compress/gzhttp"
	qr "github.com/piglig/go-qr"
	"github.com/spf13/cobra"

	"regear/advise/carfile"
	"regear/analyze/logbook/wholefile"
	"regear/analyze/logbook/workbook"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/web"
)

type serveOptions struct {
	bookFlag
	listen string
	units  *ask.Choice[units.System]
}

// defaultPort is one that no service has (the list of netbase 6.4, read).
const defaultPort = "8717"

func newServeCommand(env *environment) *cobra.Command {
	var opts serveOptions
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Serve the log book as a page, for the phone in the pit",
		Args:  noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			address, err := listenAddress(opts.listen)
			if err != nil {
				return err
			}
			return failed(runServe(cmd.Context(), env, &opts, address))
		},
	}
	opts.units = newUnitsFlag()
	cmd.Flags().StringVar(&opts.listen, "listen", "127.0.0.1:"+defaultPort, "`ADDRESS` to listen on, as in 192.168.43.20 or :9000 for all addresses of\nthis computer")
	opts.bookFlag.register(cmd)
	cmd.Flags().Var(opts.units, "units", "units shown where a browser has not chosen, unless the car file says")
	return cmd
}

func listenAddress(text string) (string, error) {
	host, port, err := net.SplitHostPort(text)
	if err != nil {
		host, port = strings.Trim(text, "[]"), defaultPort
	}
	everywhere := err == nil && host == ""
	if !everywhere && host != "localhost" && net.ParseIP(host) == nil {
		return "", fmt.Errorf("--listen: %q: write an address of this computer, as in 192.168.43.20, or a port alone, as in :9000", text)
	}
	return net.JoinHostPort(host, port), nil
}

// How long a request may take to arrive, an answer to be written, and a connection to
// stay idle. A phone at the edge of a field is slow, but not this slow.
const (
	patienceHead   = 10 * time.Second
	patienceWhole  = 2 * time.Minute
	patienceIdle   = time.Minute
	patienceEnding = 5 * time.Second
	mostHeader     = 16 << 10 // bytes
)

func runServe(ctx context.Context, env *environment, opts *serveOptions, address string) error {
	book, err := opts.book(env)
	if err != nil {
		return err
	}
	book.Name = "log book" // where the file lies says nothing on a phone, and concerns nobody
	// You may press Ctrl-C as soon as you read that it ends serve.
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return cantListen(address, err)
	}
	site := &web.Site{App: app.App{Book: book, Cars: env.rereadCars, ChangeCars: env.changeCars, Now: env.now, Workbook: workbook.Read}, Random: random, Units: opts.units.Value, Version: version()}
	// A page is mostly figures and shrinks to a fifth, which tells at the far end of a field.
	handler, err := openTo(listener.Addr().(*net.TCPAddr), gzhttp.GzipHandler(site.Handler()), env.out)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: patienceHead, ReadTimeout: patienceWhole, WriteTimeout: patienceWhole, IdleTimeout: patienceIdle,
		MaxHeaderBytes: mostHeader,
	}
	return serveUntil(ctx, server, listener)
}

// serveUntil serves until the program is told to end, and gives answers that are being
// written some time to be read to their end.
func serveUntil(ctx context.Context, server *http.Server, listener net.Listener) error {
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	ending, cancel := context.WithTimeout(context.Background(), patienceEnding)
	defer cancel()
	if err := server.Shutdown(ending); !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	// What is still open belongs to a browser that keeps a connection at hand, or is stuck.
	return server.Close()
}

// openTo says on out where the page is, and guards it: on an address that others can
// reach, a browser needs a link to come in.
func openTo(at *net.TCPAddr, site http.Handler, out io.Writer) (http.Handler, error) {
	port := fmt.Sprint(at.Port)
	hosts := []string{"localhost", "127.0.0.1", "::1"}
	if at.IP.IsLoopback() {
		fmt.Fprintf(out, "The log book is at http://%s/ on this computer. Ctrl-C ends it.\n", net.JoinHostPort(at.IP.String(), port))
		return web.Guard(site, append(hosts, at.IP.String())), nil
	}
	reachable := []string{at.IP.String()}
	if at.IP.IsUnspecified() {
		var err error
		if reachable, err = reachableAddresses(); err != nil {
			return nil, err
		}
	}
	fmt.Fprint(out, "Each link lets one browser in, once. Nothing is encrypted: anybody on the same network can read along.\nCtrl-C ends it.\n")
	door := &web.Door{Random: random, NewLink: func(path string) { showLinks(out, reachable, port, path) }}
	return web.Guard(door.Keep(site), append(hosts, reachable...)), nil
}

func reachableAddresses() ([]string, error) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, err
	}
	var reachable []string
	for _, a := range all {
		if network, ok := a.(*net.IPNet); ok && network.IP.IsGlobalUnicast() {
			reachable = append(reachable, network.IP.String())
		}
	}
	if len(reachable) == 0 {
		return nil, errors.New("this computer has no address that others can reach: join a network, or leave --listen out")
	}
	return reachable, nil
}

// showLinks prints the newest link, and on a terminal its first form as a picture for a
// phone's camera.
func showLinks(out io.Writer, hosts []string, port, path string) {
	fmt.Fprint(out, "\nThe link for the next browser:\n")
	for _, host := range hosts {
		fmt.Fprintf(out, "  http://%s%s\n", net.JoinHostPort(host, port), path)
	}
	if terminal(out) != nil {
		io.WriteString(out, picturedLink("http://"+net.JoinHostPort(hosts[0], port)+path))
	}
}

// random returns 130 random bits in letters and digits.
func random() string { return strings.ToLower(rand.Text()) }

// Windows says by numbers of its own (golang.org/x/sys/windows, read) what others say by those that
// syscall names.
const (
	windowsAccess       = syscall.Errno(10013) // WSAEACCES
	windowsAddrInUse    = syscall.Errno(10048) // WSAEADDRINUSE
	windowsAddrNotAvail = syscall.Errno(10049) // WSAEADDRNOTAVAIL
)

func cantListen(address string, err error) error {
	switch {
	case errors.Is(err, syscall.EADDRINUSE), errors.Is(err, windowsAddrInUse):
		return fmt.Errorf("%s: another program listens there already, perhaps another regear serve: end it, or name another port with --listen", address)
	case errors.Is(err, windowsAccess): // Windows lets everybody listen below 1024
		return fmt.Errorf("%s: Windows keeps this port for itself or for another program: name another port with --listen", address)
	case errors.Is(err, syscall.EADDRNOTAVAIL), errors.Is(err, windowsAddrNotAvail):
		return fmt.Errorf("%s: is not an address of this computer", address)
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("%s: only an administrator can listen there: name a port above 1023", address)
	}
	var op *net.OpError
	if errors.As(err, &op) {
		err = op.Err
	}
	return fmt.Errorf("%s: %w", address, err)
}

func (e *environment) rereadCars() (*carfile.File, error) {
	fresh := *e
	fresh.cars.read = nil
	return fresh.carFile()
}

func (e *environment) changeCars(change func(before []byte) (after []byte, err error)) error {
	path, _, err := e.carsPath()
	if err != nil {
		return err
	}
	return wholefile.Change(path, "car file", change) // where it lies is nothing that a page should say
}

// picturedLink draws a link as a QR code (ISO/IEC 18004) of half blocks, dark on light
// whatever the terminal's colours are. It is empty where the link is too long for one.
func picturedLink(link string) string {
	code, err := qr.EncodeText(link, qr.Medium)
	if err != nil {
		return "" // the link stands above it in letters
	}
	const quiet = 2 // modules around it; readers manage with fewer than the standard's 4
	const darkOnLight, plain = "\x1b[30;107m", "\x1b[0m"
	var b strings.Builder
	for y := -quiet; y < code.Size()+quiet; y += 2 {
		b.WriteString("  " + darkOnLight)
		for x := -quiet; x < code.Size()+quiet; x++ {
			b.WriteString(halves[dark(code, x, y)][dark(code, x, y+1)])
		}
		b.WriteString(plain + "\n")
	}
	return b.String()
}

// halves are the characters whose upper and lower half are light (0) or dark (1).
var halves = [2][2]string{{" ", "▄"}, {"▀", "█"}}

func dark(code *qr.QrCode, x, y int) int {
	inside := x >= 0 && y >= 0 && x < code.Size() && y < code.Size()
	if inside && code.Module(x, y) {
		return 1
	}
	return 0
}
