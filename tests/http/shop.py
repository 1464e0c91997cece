#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A shop on the loopback that is told what changes: scripts/shop-example itself, and before it what goes wrong on the way.

    shop.py EXAMPLE FOLDER [CERT KEY]      prints its port; TLS with a certificate

FOLDER/secret: the shop's secret. FOLDER/does: what becomes of the next messages, a word a line; without one the example has it:
500, 401, 400, 410, 302 (answered so, in words), long (500, in a great many), drop (no answer), stall (for a while), late (the example takes it, the answer is lost),
half (an answer that breaks off). FOLDER/asked: a line for each that came: id, time, word. FOLDER/told: what the example prints.
"""
import importlib.machinery
import importlib.util
import os
import ssl
import sys
import time
from http.server import ThreadingHTTPServer

example, folder, secure = sys.argv[1], sys.argv[2], sys.argv[3:5]
sys.argv = ["shop-example", "whsec_"]
sys.dont_write_bytecode = True  # nothing is left beside the example
loader = importlib.machinery.SourceFileLoader("shop_example", example)
shop = importlib.util.module_from_spec(importlib.util.spec_from_loader("shop_example", loader))
loader.exec_module(shop)


def path(name):
    return os.path.join(folder, name)


def next_word():
    try:
        with open(path("does")) as f:
            words = f.read().split()
    except FileNotFoundError:
        words = []
    with open(path("does.new"), "w") as f:
        f.write("\n".join(words[1:]))
    os.rename(path("does.new"), path("does"))
    return words[0] if words else ""


class Between(shop.Shop):
    def log_message(self, *words):
        pass

    def do_POST(self):
        word = next_word()
        with open(path("secret")) as f:
            shop.KEY = shop.base64.b64decode(f.read().strip().removeprefix("whsec_"))
        with open(path("asked"), "a") as f:
            f.write("%s %s %s\n" % (self.headers["webhook-id"], self.headers["webhook-timestamp"], word or "-"))
        if word.isdigit():
            self.rfile.read(int(self.headers["content-length"]))
            self.send_response(int(word))
            if word == "302":
                self.send_header("location", "/elsewhere")
            self.end_headers()
            self.wfile.write(b"the shop says %s" % word.encode())
        elif word == "long":
            self.rfile.read(int(self.headers["content-length"]))
            self.send_response(500)
            self.end_headers()
            self.wfile.write(b"<b>\x1b\xe9the shop " * 1000)
        elif word == "drop":
            self.close_connection = True
        elif word == "stall":
            time.sleep(30)
        elif word == "half":
            self.send_response(200)
            self.send_header("content-length", "1000")
            self.end_headers()
            self.wfile.write(b"some")
        elif word == "late":
            self.send_response = self.end_headers = lambda *a: None
            super().do_POST()
        else:
            super().do_POST()


server = ThreadingHTTPServer(("127.0.0.1", 0), Between)
if secure:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*secure)
    server.socket = context.wrap_socket(server.socket, server_side=True)
print(server.server_port, flush=True)
sys.stdout = open(path("told"), "a")
server.serve_forever()
