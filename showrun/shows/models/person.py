"""A person with an e-mail address; what they may do is said per show, by role."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models


class PersonManager(BaseUserManager["Person"]):
    """Finds people by their e-mail, whatever its capitals."""

    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(email__iexact=username or "")

    def create_user(self, email: str, password: str | None = None, **extra: Any) -> Person:
        person = self.model(email=self.normalize_email(email).lower(), **extra)
        if password:
            person.set_password(password)
        else:
            person.set_unusable_password()
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str, **extra: Any) -> Person:
        return self.create_user(email, password, is_superuser=True, **extra)


class Person(AbstractBaseUser, PermissionsMixin):
    """Signs in by a link sent to their e-mail; a password is possible, not needed."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    language = models.CharField(
        max_length=10,
        blank=True,
        default="",
        db_default="",  # a version that does not know of it adds people too
        help_text="In which they last signed in or chose to read.",
    )
    joined_at = models.DateTimeField(auto_now_add=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects: ClassVar[PersonManager] = PersonManager()

    def __str__(self) -> str:
        return self.name or self.email
