package load

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// asked is the variable by which this program is started as the echo.
const asked = "ROWDATUM_PROVE_ECHO"

// Asked reports whether this process was started to be the echo: its main function is then to call Echo and nothing else.
func Asked() bool { return os.Getenv(asked) != "" }

// script is what the echo is told: what to answer to each method, one answer after the other.
type script map[string][][]byte

// addresses is what the echo tells.
type addresses struct{ GRPC, HTTP string }

// Echo reads from in what it is to answer, and answers every call so until in ends: over gRPC, and as JSON through the
// gateway library as it comes, which speaks to the server within the process, as the service's gateway does. It reads
// each request like any server, and does nothing with it.
func Echo(in io.Reader, out io.Writer) error {
	reader := bufio.NewReader(in)
	line, err := reader.ReadBytes('\n')
	if err != nil {
		return fmt.Errorf("reading what to answer: %w", err)
	}
	var answers script
	if err := json.Unmarshal(line, &answers); err != nil {
		return fmt.Errorf("reading what to answer: %w", err)
	}
	server := grpc.NewServer()
	defer server.Stop()
	for method, texts := range answers {
		if err := register(server, method, texts); err != nil {
			return err
		}
	}
	at, err := listen(server)
	if err != nil {
		return err
	}
	if err := json.NewEncoder(out).Encode(at); err != nil {
		return err
	}
	_, err = io.Copy(io.Discard, reader)
	return err
}

// listen serves on addresses of its own; what it starts ends with the process.
func listen(server *grpc.Server) (addresses, error) {
	open, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return addresses{}, err
	}
	inside := bufconn.Listen(1 << 20)
	conn, err := grpc.NewClient("passthrough:///inside", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return inside.DialContext(ctx) }))
	if err != nil {
		return addresses{}, err
	}
	mux := runtime.NewServeMux()
	if err := rowdatumv1.RegisterPlanServiceHandlerClient(context.Background(), mux, rowdatumv1.NewPlanServiceClient(conn)); err != nil {
		return addresses{}, err
	}
	web, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return addresses{}, err
	}
	go server.Serve(open)
	go server.Serve(inside)
	go http.Serve(web, mux)
	return addresses{GRPC: open.Addr().String(), HTTP: web.Addr().String()}, nil
}

// register has the server answer a method, /package.Service/Method, with one answer after the other.
func register(server *grpc.Server, method string, texts [][]byte) error {
	service, name, _ := strings.Cut(strings.TrimPrefix(method, "/"), "/")
	found, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service + "." + name))
	if err != nil {
		return fmt.Errorf("%s: %w", method, err)
	}
	described := found.(protoreflect.MethodDescriptor)
	request, err := protoregistry.GlobalTypes.FindMessageByName(described.Input().FullName())
	if err != nil {
		return fmt.Errorf("%s: %w", method, err)
	}
	answer, err := protoregistry.GlobalTypes.FindMessageByName(described.Output().FullName())
	if err != nil {
		return fmt.Errorf("%s: %w", method, err)
	}
	answers := make([]proto.Message, len(texts))
	for i, text := range texts {
		answers[i] = answer.New().Interface()
		if err := proto.Unmarshal(text, answers[i]); err != nil {
			return fmt.Errorf("%s: %w", method, err)
		}
	}
	var next atomic.Uint64
	server.RegisterService(&grpc.ServiceDesc{ServiceName: service, HandlerType: (*any)(nil), Methods: []grpc.MethodDesc{{MethodName: name,
		Handler: func(_ any, _ context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
			if err := decode(request.New().Interface()); err != nil {
				return nil, err
			}
			return answers[next.Add(1)%uint64(len(answers))], nil
		}}}}, nil)
	return nil
}

// echo is a running echo.
type echo struct {
	addresses
	command *exec.Cmd
	stdin   io.Closer
}

// startEcho starts this program once more, as the echo.
func startEcho(ctx context.Context, answers script) (*echo, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	e := &echo{command: exec.CommandContext(ctx, self)}
	e.command.Env = append(os.Environ(), asked+"=1")
	e.command.Stderr = os.Stderr
	stdin, err := e.command.StdinPipe()
	if err != nil {
		return nil, err
	}
	e.stdin = stdin
	stdout, err := e.command.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := e.command.Start(); err != nil {
		return nil, err
	}
	if err := errors.Join(json.NewEncoder(stdin).Encode(answers), json.NewDecoder(stdout).Decode(&e.addresses)); err != nil {
		e.end()
		return nil, fmt.Errorf("the echo does not start: %w", err)
	}
	return e, nil
}

func (e *echo) pid() int { return e.command.Process.Pid }

// end ends the echo and waits until it is gone.
func (e *echo) end() {
	e.stdin.Close()
	e.command.Wait() // how it ended matters to nobody
}
