package gateway_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"rowdatum/gateway"
)

// A gateway alone, in front of a service elsewhere. It does not mind that the service is not there yet.
func ExampleNew() {
	conn, err := grpc.NewClient("127.0.0.1:7401", grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		fmt.Println(err)
		return
	}
	defer conn.Close()
	handler, err := gateway.New(gateway.Options{Conn: conn})
	if err != nil {
		fmt.Println(err)
		return
	}
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/healthz", nil))
	fmt.Println(answer.Code, answer.Body)
	// Output: 200 {"status":"SERVING"}
}
