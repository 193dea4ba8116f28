"""Mutations of people."""

from __future__ import annotations

import datetime as dt
import re

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from keyhook.errors import BadInput
from keyhook_desk import clock
from keyhook_desk.people.models import FailedLogin, Role, User
from keyhook_desk.people.rights import require
from keyhook_desk.web.history import record


def add_person(*, actor: User | None, username: str, full_name: str, role: Role, password: str) -> User:
    """Add somebody who may log in; ``actor`` None is the command line.

    Raises
    ------
    BadInput
        The name is taken or empty, or the password is too easy.
    """
    if actor is not None:
        require(actor, "people.edit")
    if not username or User.objects.filter(username__iexact=username).exists():
        raise BadInput("This login is taken or empty", seen=username, todo="Choose another")
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,60}", username):
        raise BadInput("A login is letters, digits, dots and dashes", seen=username[:60], todo="Choose another")
    first, _, last = full_name.partition(" ")
    person = User(username=username, first_name=first, last_name=last, role=role)
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise BadInput("The password is too easy", todo=" ".join(error.messages)) from error
    with transaction.atomic():
        person.set_password(password)
        person.save()
        record(actor=actor, action="add", kind="person", name=username, said=f"{full_name}, {role.label}")
    return person


def set_role(*, actor: User, person: User, role: Role, active: bool) -> User:
    """Change somebody's role, or whether they may log in; nobody takes the last manager away."""
    require(actor, "people.edit")
    with transaction.atomic():
        managers = User.objects.select_for_update().filter(role=Role.MANAGER, is_active=True).exclude(pk=person.pk)
        if person.role == Role.MANAGER and (role != Role.MANAGER or not active) and not managers.exists():
            raise BadInput("Somebody has to stay manager", seen=person.username, todo="Make another one manager first")
        person.role, person.is_active = role, active
        person.save(update_fields=["role", "is_active"])
        said = f"{role.label}, {'may log in' if active else 'may not log in'}"
        record(actor=actor, action="edit", kind="person", name=person.username, said=said)
    return person


def may_try(*, username: str, address: str) -> bool:
    """Tell whether somebody at this address may try this login again; after too many failures they wait."""
    since = clock.running() - dt.timedelta(minutes=settings.LOGIN_PAUSE_MIN)
    failures = FailedLogin.objects.filter(username=username.lower()[:150], address=address, at__gte=since)
    return failures.count() < settings.LOGIN_TRIES


def note_failure(*, username: str, address: str) -> None:
    """Note a login that did not work, and forget those that are old."""
    at = clock.running()
    with transaction.atomic():
        FailedLogin.objects.filter(at__lt=at - dt.timedelta(minutes=settings.LOGIN_PAUSE_MIN)).delete()
        FailedLogin.objects.create(username=username.lower()[:150], address=address, at=at)
