#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A mail server on the loopback (Debian's python3-aiosmtpd) that takes, refuses, stalls and drops, as the recipient's name says.

    mailserver.py FOLDER [CERT KEY]      prints its port; TLS from the start and a sign-in with a certificate

What it takes lies in FOLDER as NUMBER.eml, and each end of DATA that it heard adds a line to FOLDER/heard.
"""
import asyncio
import os
import ssl
import sys

from aiosmtpd.smtp import SMTP, AuthResult

folder = sys.argv[1]
secure = len(sys.argv) > 3


class Handler:
    taken = 0
    busy = {}

    async def handle_RCPT(self, server, session, envelope, address, options):
        name = address.split("@")[0]
        if name == "nobody":
            return "550 5.1.1 <%s>: no such mailbox" % address
        if name == "slowly":  # greylisted once
            self.busy[address] = self.busy.get(address, 0) + 1
            if self.busy[address] == 1:
                return "450 4.2.0 <%s>: try again later" % address
        if name == "closing":
            return "421 4.3.2 service not available"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        name = envelope.rcpt_tos[0].split("@")[0]
        with open(os.path.join(folder, "heard"), "a") as f:
            f.write(name + "\n")
        if name == "spam":
            return "554 5.7.1 refused as unwanted"
        if name == "drops":  # after the last byte, before the answer
            server.transport.abort()
            return "250 never heard"
        if name == "stalls":
            await asyncio.sleep(60)
        Handler.taken += 1
        with open(os.path.join(folder, "%d.eml" % Handler.taken), "wb") as f:
            f.write(envelope.original_content)
        return "250 2.0.0 OK queued as Q%d" % Handler.taken


class Cutting(SMTP):
    """Cuts the line at DATA for a recipient named cut."""

    async def smtp_DATA(self, arg):
        if self.envelope.rcpt_tos and self.envelope.rcpt_tos[0].startswith("cut@"):
            self.transport.abort()
            return
        await super().smtp_DATA(arg)


def sign_in(server, session, envelope, mechanism, data):
    good = data.login == b"office" and data.password == b"pass word 1"
    return AuthResult(success=good, handled=good)


async def main():
    loop = asyncio.get_running_loop()
    context = None
    extra = {}
    if secure:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(sys.argv[2], sys.argv[3])
        extra = {"authenticator": sign_in, "auth_required": True, "auth_require_tls": False}
    server = await loop.create_server(
        lambda: Cutting(Handler(), hostname="mail.test", **extra), "127.0.0.1", 0, ssl=context
    )
    print(server.sockets[0].getsockname()[1], flush=True)
    await asyncio.sleep(300)


asyncio.run(main())
